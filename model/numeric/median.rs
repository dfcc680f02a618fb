//! The middle of some values, which a few wild ones do not move.

/// Standard deviation of a normal distribution over the median of its absolute deviations (any text on robust statistics).
/// Equations (5.15), (6.23) and (10.2).
pub(crate) const MAD_TO_SD: f64 = 1.4826;

/// The middle value in order of size, the upper one of two; none of no values. Its value is always one of those given.
pub(crate) fn upper_median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}

/// The middle value in order of size, the mean of the two middle ones; none of no values.
pub(crate) fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    Some(f64::midpoint(sorted[last / 2], sorted[sorted.len() / 2]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_an_even_number_lies_between_or_is_the_upper() {
        assert_eq!(median([3.0, 1.0, 2.0, 40.0]), Some(2.5));
        assert_eq!(upper_median([3.0, 1.0, 2.0, 40.0]), Some(3.0));
        assert_eq!(median([5.0, 1.0, 9.0]), upper_median([5.0, 1.0, 9.0]));
        assert_eq!((median([]), upper_median([])), (None, None));
    }
}
