//! Scales: from a number to a place, and round numbers along it.

/// A straight scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// Numbers at both ends.
    pub(super) numbers: (f64, f64),
    /// Their places.
    pub(super) places: (f64, f64),
    /// Between two round numbers.
    pub(super) step: f64,
}

impl Scale {
    /// Place of a number.
    pub(super) fn at(&self, number: f64) -> f64 {
        let ((low, high), (start, end)) = (self.numbers, self.places);
        start + (number - low) / (high - low) * (end - start)
    }

    /// The round numbers on it.
    pub(super) fn ticks(&self) -> impl Iterator<Item = f64> + use<> {
        let (low, high) = self.numbers;
        let step = self.step;
        let first = (low / step - 1e-6).ceil();
        let last = (high / step + 1e-6).floor();
        // Adding nothing turns a negative nothing into nothing.
        std::iter::successors(Some(first), |n| Some(n + 1.0))
            .take_while(move |n| *n <= last)
            .map(move |n| n * step + 0.0)
    }

    /// A round number with the decimals that the step asks for.
    pub(super) fn label(&self, number: f64) -> String {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "held between 0 and 9"
        )]
        let decimals = (-self.step.log10() - 1e-9).ceil().clamp(0.0, 9.0) as usize;
        format!("{number:.decimals$}")
    }

    /// Along the horizontal, ending where the numbers end.
    pub(super) fn along((low, high): (f64, f64), places: (f64, f64), whole: bool) -> Self {
        let room = ((places.1 - places.0) / 62.0).clamp(3.0, 12.0);
        let step = step(high - low, room);
        Self {
            numbers: if high > low {
                (low, high)
            } else {
                (low - 0.5, high + 0.5)
            },
            places,
            step: if whole { step.max(1.0) } else { step },
        }
    }

    /// Up the vertical, in at most so many parts, ending on round numbers.
    pub(super) fn up(
        (low, high): (f64, f64),
        from_zero: bool,
        parts: f64,
        places: (f64, f64),
    ) -> Self {
        let low = if from_zero { low.min(0.0) } else { low };
        // A flat line needs a scale too.
        let high = high.max(low + 1e-3 * low.abs()).max(low + 1e-6);
        let step = step(high - low, parts);
        Self {
            numbers: (
                (low / step + 1e-9).floor() * step,
                (high / step - 1e-9).ceil() * step,
            ),
            places,
            step,
        }
    }
}

/// The smallest round step (1, 2, 5 and their tens) that parts a span into at most so many.
pub(super) fn step(span: f64, parts: f64) -> f64 {
    let least = span.max(1e-9) / parts.max(1.0);
    let decade = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * decade)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * decade)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_part_a_span_into_at_most_so_many() {
        for (span, parts, expected) in [
            (239.0, 5.0, 50.0),
            (7.0, 7.0, 1.0),
            (0.05, 4.0, 0.02),
            (4000.0, 8.0, 500.0),
        ] {
            assert!((step(span, parts) - expected).abs() < 1e-12, "{span}");
        }
    }

    #[test]
    fn a_scale_ends_on_round_numbers_and_labels_carry_their_decimals() {
        let scale = Scale::up((0.83, 0.88), false, 4.0, (100.0, 0.0));
        let labels: Vec<String> = scale.ticks().map(|n| scale.label(n)).collect();
        assert_eq!(labels, ["0.82", "0.84", "0.86", "0.88"]);
        assert!((scale.at(0.85) - 50.0).abs() < 1e-9);
        let around = Scale::up((-3.0, 1.0), false, 4.0, (100.0, 0.0));
        assert_eq!(
            around.ticks().map(|n| around.label(n)).collect::<Vec<_>>(),
            ["-3", "-2", "-1", "0", "1"]
        );
        let tenfold = Scale::up((0.0, 3.0), true, 3.0, (100.0, 0.0));
        assert_eq!(tenfold.label(2.0), "2");
    }

    #[test]
    fn a_flat_line_has_a_scale() {
        let scale = Scale::up((20.0, 20.0), false, 3.0, (100.0, 0.0));
        assert!(scale.at(20.0).is_finite() && scale.step > 0.0);
    }
}
