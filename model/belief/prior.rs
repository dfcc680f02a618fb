//! What is believed about one number before any run is seen: a normal or log-normal curve cut to bounds. It exists so
//! that the fitter, the sampler and the report read the same belief; a number known exactly is the same type with no
//! spread. It refuses a centre outside its bounds, and bounds that leave nothing.

use std::fmt;

use rand::{Rng, RngExt, distr::Open01};
use statrs::distribution::{ContinuousCDF, Normal};

/// Half width of a central 90 % interval of the normal distribution, in standard deviations (tables of the normal
/// distribution, three decimals).
/// Equation (10.5).
pub const HALF_WIDTH_90: f64 = 1.645;

/// The curve before it is cut to the bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Standardised coordinate `z = (x − mean) / sd`.
    Normal,
    /// Standardised coordinate `z = (ln x − ln median) / sd`, with `sd` the standard deviation of `ln x`.
    LogNormal,
}

/// Belief about one number; its unit is the number's own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    shape: Shape,
    mean: f64,
    sd: f64,
    lower: f64,
    upper: f64,
}

/// Why a belief was refused.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum PriorError {
    /// A spread below zero, or not a finite number.
    SpreadInvalid {
        /// The spread given.
        sd: f64,
    },
    /// Not `lower < centre < upper` (with no spread: not `lower ≤ centre ≤ upper`), or a value that is not a number.
    CentreOutsideBounds {
        /// Mean or median given.
        centre: f64,
        /// Lower bound given.
        lower: f64,
        /// Upper bound given.
        upper: f64,
    },
    /// A log-normal belief needs a positive median and a lower bound that is not negative.
    NotPositive {
        /// Median given.
        median: f64,
        /// Lower bound given.
        lower: f64,
    },
}

impl fmt::Display for PriorError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::SpreadInvalid { sd } => {
                write!(f, "a spread must be a number not below zero, got {sd}")
            }
            Self::CentreOutsideBounds {
                centre,
                lower,
                upper,
            } => {
                write!(
                    f,
                    "the centre {centre} must lie between its bounds {lower} and {upper}"
                )
            }
            Self::NotPositive { median, lower } => write!(
                f,
                "a log-normal belief needs a median above zero and a lower bound not below zero, got {median} and {lower}"
            ),
        }
    }
}

impl std::error::Error for PriorError {}

impl Prior {
    /// Normal curve with this mean and standard deviation before it is cut to `lower..upper` (which may be infinite).
    pub fn normal(mean: f64, sd: f64, lower: f64, upper: f64) -> Result<Self, PriorError> {
        Self {
            shape: Shape::Normal,
            mean,
            sd,
            lower,
            upper,
        }
        .checked()
    }

    /// Log-normal curve with this median and standard deviation of `ln x` before it is cut to `lower..upper`.
    pub fn log_normal(median: f64, sd_ln: f64, lower: f64, upper: f64) -> Result<Self, PriorError> {
        if !(median > 0.0 && lower >= 0.0) {
            return Err(PriorError::NotPositive { median, lower });
        }
        Self {
            shape: Shape::LogNormal,
            mean: median,
            sd: sd_ln,
            lower,
            upper,
        }
        .checked()
    }

    /// A number known exactly.
    pub fn fixed(value: f64) -> Result<Self, PriorError> {
        Self::normal(value, 0.0, value, value)
    }

    /// The same belief in a unit of which one of these is `scale`.
    pub fn scaled(self, scale: f64) -> Result<Self, PriorError> {
        if self.is_fixed() {
            return Self::fixed(scale * self.mean);
        }
        let sd = match self.shape {
            Shape::Normal => scale * self.sd,
            Shape::LogNormal => self.sd,
        };
        Self {
            shape: self.shape,
            mean: scale * self.mean,
            sd,
            lower: scale * self.lower,
            upper: scale * self.upper,
        }
        .checked()
    }

    fn checked(self) -> Result<Self, PriorError> {
        let Self {
            mean,
            sd,
            lower,
            upper,
            ..
        } = self;
        if !(sd >= 0.0 && sd.is_finite()) {
            return Err(PriorError::SpreadInvalid { sd });
        }
        let between = if sd > 0.0 {
            lower < mean && mean < upper
        } else {
            lower <= mean && mean <= upper
        };
        if between && mean.is_finite() {
            Ok(self)
        } else {
            Err(PriorError::CentreOutsideBounds {
                centre: mean,
                lower,
                upper,
            })
        }
    }

    /// The curve's shape.
    pub const fn shape(&self) -> Shape {
        self.shape
    }

    /// Mean of the uncut normal curve, or median of the uncut log-normal one: the value at `z = 0`.
    pub const fn centre(&self) -> f64 {
        self.mean
    }

    /// Standard deviation of the uncut curve: of `x` if normal, of `ln x` if log-normal.
    pub const fn sd(&self) -> f64 {
        self.sd
    }

    /// Lower bound.
    pub const fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper bound.
    pub const fn upper(&self) -> f64 {
        self.upper
    }

    /// True when there is no spread: the number is known and no fitter moves it.
    pub fn is_fixed(&self) -> bool {
        self.sd == 0.0
    }

    /// Standardised coordinate of `x`, in which the uncut curve is N(0, 1); zero if fixed.
    /// Equation (8.10).
    pub fn to_z(&self, x: f64) -> f64 {
        match self.shape {
            _ if self.is_fixed() => 0.0,
            Shape::Normal => (x - self.mean) / self.sd,
            Shape::LogNormal => (x / self.mean).ln() / self.sd,
        }
    }

    /// Value at standardised coordinate `z`, never past a bound.
    /// Equation (8.10).
    pub fn from_z(&self, z: f64) -> f64 {
        let x = match self.shape {
            Shape::Normal => self.mean + self.sd * z,
            Shape::LogNormal => self.mean * (self.sd * z).exp(),
        };
        x.clamp(self.lower, self.upper)
    }

    /// dx/dz at `z`: turns a slope per `x` into a slope per `z`.
    pub fn dx_dz(&self, z: f64) -> f64 {
        match self.shape {
            Shape::Normal => self.sd,
            Shape::LogNormal => self.sd * self.mean * (self.sd * z).exp(),
        }
    }

    /// The bounds as standardised coordinates; (0, 0) if fixed.
    pub fn z_bounds(&self) -> (f64, f64) {
        (self.to_z(self.lower), self.to_z(self.upper))
    }

    /// Value below which the share `p` (0 to 1) of the cut curve lies.
    ///
    /// ```text
    /// x_p = x(z),   z = Φ⁻¹{Φ(z_l) + p [Φ(z_u) − Φ(z_l)]}
    /// ```
    ///
    /// A `p` outside 0 to 1 is read as the nearer end. Source: inverse of the truncated distribution; derived.
    /// Equation (8.10).
    pub fn quantile(&self, p: f64) -> f64 {
        if self.is_fixed() {
            return self.mean;
        }
        let unit = Normal::standard();
        let (z_lower, z_upper) = self.z_bounds();
        let p = p.clamp(0.0, 1.0);
        let (below, above) = (unit.cdf(z_lower), unit.sf(z_upper));
        let share = below + p * (1.0 - above - below);
        // The upper half through its own tail, where 1 − Φ keeps its digits.
        let z = if share <= 0.5 {
            unit.inverse_cdf(share)
        } else {
            -unit.inverse_cdf(above + (1.0 - p) * (1.0 - above - below))
        };
        self.from_z(z)
    }

    /// One draw from the cut curve, by its inverse distribution: one uniform number is used per draw.
    pub fn sample<R: Rng + ?Sized>(&self, rng: &mut R) -> f64 {
        let u: f64 = rng.sample(Open01);
        self.quantile(u)
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    use super::*;

    const FREE: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

    /// Share, value: `SciPy` 1.17.1 `truncnorm` with mean 0.95, sd 0.08, cut to 0.60..1.00.
    const TRUNCNORM_SCIPY: [(f64, f64); 5] = [
        (0.001, 0.6957163631108221),
        (0.1, 0.8339297565962477),
        (0.5, 0.9228174228302398),
        (0.9, 0.9831310735059993),
        (0.999, 0.9998211861857161),
    ];

    #[test]
    fn quantiles_of_the_uncut_curve_are_the_textbook_ones() {
        let normal = Prior::normal(10.0, 2.0, FREE.0, FREE.1).expect("valid belief");
        // Φ⁻¹(0.975) = 1.959963984540054 (standard normal table).
        assert!((normal.quantile(0.975) - (10.0 + 2.0 * 1.959_963_984_540_054)).abs() < 1e-12);
        assert!((normal.quantile(0.5) - 10.0).abs() < 1e-14);
        let log = Prior::log_normal(3.0, 0.4, 0.0, FREE.1).expect("valid belief");
        // ln median + 0.4 · Φ⁻¹(0.05), Φ⁻¹(0.05) = −1.644853626951473.
        assert!(
            (log.quantile(0.05) / (3.0 * (-0.4_f64 * 1.644_853_626_951_473).exp()) - 1.0).abs()
                < 1e-12
        );
    }

    #[test]
    fn cut_quantiles_agree_with_the_general_purpose_library() {
        let cut = Prior::normal(0.95, 0.08, 0.60, 1.0).expect("valid belief");
        for (p, x) in TRUNCNORM_SCIPY {
            assert!(
                (cut.quantile(p) - x).abs() < 1e-12,
                "{p}: {}",
                cut.quantile(p)
            );
        }
    }

    #[test]
    fn there_and_back_through_z() {
        for belief in [
            Prior::normal(0.04, 0.03, -0.05, 0.15).expect("valid belief"),
            Prior::log_normal(2.5, 0.4, 0.3, 8.0).expect("valid belief"),
        ] {
            for p in [0.001, 0.3, 0.9, 0.9999] {
                let x = belief.quantile(p);
                assert!((belief.from_z(belief.to_z(x)) - x).abs() < 1e-14);
                let z = belief.to_z(x);
                let slope = (belief.from_z(z + 1e-6) - belief.from_z(z - 1e-6)) / 2e-6;
                assert!((slope / belief.dx_dz(z) - 1.0).abs() < 1e-8);
            }
            assert_eq!(belief.from_z(1e3), belief.upper());
        }
    }

    #[test]
    fn draws_repeat_with_the_seed_and_follow_the_curve() {
        let belief = Prior::normal(0.955, 0.02, 0.94, 0.99).expect("valid belief");
        let draw = |seed| {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            (0..4000)
                .map(|_| belief.sample(&mut rng))
                .collect::<Vec<_>>()
        };
        let draws = draw(1);
        assert_eq!(draws, draw(1));
        assert_ne!(draws, draw(2));
        for p in [0.1, 0.5, 0.9] {
            let below = draws.iter().filter(|&&x| x <= belief.quantile(p)).count() as f64 / 4000.0;
            // Four standard deviations of a share counted in 4000 draws.
            assert!(
                (below - p).abs() < 4.0 * (p * (1.0 - p) / 4000.0).sqrt(),
                "{p}: {below}"
            );
        }
    }

    #[test]
    fn beliefs_that_cannot_be_are_refused() {
        assert_eq!(
            Prior::normal(1.0, -0.1, 0.0, 2.0),
            Err(PriorError::SpreadInvalid { sd: -0.1 })
        );
        assert!(matches!(
            Prior::normal(2.0, 0.1, 0.0, 2.0),
            Err(PriorError::CentreOutsideBounds { .. })
        ));
        assert!(matches!(
            Prior::normal(f64::NAN, 0.1, 0.0, 2.0),
            Err(PriorError::CentreOutsideBounds { .. })
        ));
        assert!(matches!(
            Prior::log_normal(1.0, 0.1, -1.0, 2.0),
            Err(PriorError::NotPositive { .. })
        ));
        let fixed = Prior::fixed(4.0).expect("a finite number can be fixed");
        assert!(fixed.is_fixed());
        assert_eq!(
            (fixed.quantile(0.1), fixed.to_z(9.0), fixed.from_z(3.0)),
            (4.0, 0.0, 4.0)
        );
    }

    #[test]
    fn a_log_normal_belief_has_a_median_above_nothing() {
        for (median, lower) in [(0.0, 0.0), (-1.0, 0.0), (1.0, -1.0), (f64::NAN, 0.0)] {
            let refused = Prior::log_normal(median, 0.1, lower, 5.0);
            assert!(
                matches!(refused, Err(PriorError::NotPositive { .. })),
                "{median} from {lower}: {refused:?}"
            );
        }
    }
}
