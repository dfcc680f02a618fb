//! The lowest point of a function that has one valley, by golden section: each look narrows the bracket by the same share, and one of its
//! two inner places is always known already. It refuses to say whether the valley is the only one.

/// Share of a bracket that is left after a look: `(√5 − 1)/2`.
const SHARE: f64 = 0.618_033_988_749_894_9;

/// A bracket about the lowest point, with two places inside it and what was found there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bracket {
    low: f64,
    high: f64,
    inner: [(f64, f64); 2],
}

impl Bracket {
    /// Looks at both inner places of a bracket.
    pub(crate) fn new<E>(
        mut cost: impl FnMut(f64) -> Result<f64, E>,
        (low, high): (f64, f64),
    ) -> Result<Self, E> {
        let (a, b) = (high - SHARE * (high - low), low + SHARE * (high - low));
        let inner = [(a, cost(a)?), (b, cost(b)?)];
        Ok(Self { low, high, inner })
    }

    /// Narrows it by one look.
    pub(crate) fn narrow<E>(
        &mut self,
        mut cost: impl FnMut(f64) -> Result<f64, E>,
    ) -> Result<(), E> {
        let [a, b] = self.inner;
        if a.1 <= b.1 {
            self.high = b.0;
            let place = self.high - SHARE * (self.high - self.low);
            self.inner = [(place, cost(place)?), a];
        } else {
            self.low = a.0;
            let place = self.low + SHARE * (self.high - self.low);
            self.inner = [b, (place, cost(place)?)];
        }
        Ok(())
    }

    /// The better of the two inner places, and what was found there.
    pub(crate) fn best(&self) -> (f64, f64) {
        let [a, b] = self.inner;
        if a.1 <= b.1 { a } else { b }
    }
}

/// Middle of the bracket in which the lowest point of a function lies, to a width.
pub(crate) fn lowest(cost: impl Fn(f64) -> f64, bracket: (f64, f64), width: f64) -> f64 {
    let cost = |x: f64| Ok::<_, std::convert::Infallible>(cost(x));
    let Ok(mut found) = Bracket::new(cost, bracket);
    while found.high - found.low > width {
        let Ok(()) = found.narrow(cost);
    }
    f64::midpoint(found.low, found.high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lowest_point_of_a_parabola_is_found_to_the_width() {
        let at = lowest(|x| (x - 0.3).powi(2), (-1.0, 2.0), 1e-6);
        assert!((at - 0.3).abs() < 1e-6, "{at}");
        // A valley at an end is found there.
        assert!(lowest(|x| x, (1.0, 2.0), 1e-3) < 1.001);
    }

    #[test]
    fn a_cost_that_fails_ends_the_search() {
        let fails = |x: f64| if x > 0.5 { Err("too far") } else { Ok(x) };
        assert_eq!(Bracket::new(fails, (0.0, 1.0)), Err("too far"));
        let share: f64 = 0.5 * (5.0_f64.sqrt() - 1.0);
        assert_eq!(share, SHARE);
    }
}
