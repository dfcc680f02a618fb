//! Straight lines between points.

/// Value at `x` of the straight line through two points.
pub(crate) fn straight((x0, y0): (f64, f64), (x1, y1): (f64, f64), x: f64) -> f64 {
    y0 + (y1 - y0) * (x - x0) / (x1 - x0)
}

/// Value at `x` between points in order of their `x`, straight between them; none outside them.
pub(crate) fn straight_between(xs: &[f64], ys: &[f64], x: f64) -> Option<f64> {
    let above = xs.partition_point(|&at| at < x);
    match above.checked_sub(1) {
        None => (xs.first() == Some(&x)).then(|| ys[0]),
        Some(below) => {
            let end = (*xs.get(above)?, ys[above]);
            Some(straight((xs[below], ys[below]), end, x))
        }
    }
}

/// The same of at least one point, level outside them.
pub(crate) fn straight_held(points: &[(f64, f64)], x: f64) -> f64 {
    let last = points.len() - 1;
    match points.partition_point(|p| p.0 < x) {
        0 => points[0].1,
        above if above > last => points[last].1,
        above => straight(points[above - 1], points[above], x),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_met_and_beyond_them_is_nothing_or_the_nearest() {
        let (xs, ys) = ([1.0, 2.0, 4.0], [10.0, 20.0, 0.0]);
        assert_eq!(straight_between(&xs, &ys, 3.0), Some(10.0));
        assert_eq!(straight_between(&xs, &ys, 1.0), Some(10.0));
        assert_eq!(straight_between(&xs, &ys, 4.0), Some(0.0));
        assert_eq!(straight_between(&xs, &ys, 0.9), None);
        assert_eq!(straight_between(&xs, &ys, 4.1), None);
        assert_eq!(straight_between(&[], &[], 1.0), None);
        let points = [(1.0, 10.0), (2.0, 20.0), (4.0, 0.0)];
        for (x, y) in [(0.0, 10.0), (1.5, 15.0), (3.0, 10.0), (9.0, 0.0)] {
            assert_eq!(straight_held(&points, x), y);
        }
    }
}
