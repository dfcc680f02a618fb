//! The greatest of some distances.

/// The greatest; no number where one of them is none, so that nothing unknown passes for small. Zero of nothing.
pub(crate) fn greatest(distances: impl IntoIterator<Item = f64>) -> f64 {
    let greater = |most: f64, one: f64| {
        if one <= most || most.is_nan() {
            most
        } else {
            one
        }
    };
    distances.into_iter().fold(0.0, greater)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_is_not_small() {
        assert_eq!(greatest([0.5, 2.0, 1.0]), 2.0);
        for unknown in [
            [f64::NAN, 1.0, 2.0],
            [1.0, f64::NAN, 0.5],
            [1.0, 2.0, f64::NAN],
        ] {
            assert!(greatest(unknown).is_nan());
        }
    }
}
