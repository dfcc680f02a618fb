//! Measured curves and maps read off between their points. A compressor map, a motor envelope or a drag table knows
//! nothing past its edge, so a reading there is a different answer ([`Lookup::Beyond`]: the value at the edge and how
//! far out), which the caller has to look at. Axes are checked once, when the table is made; a reading cannot fail.

use std::fmt;

/// A reading of a one-dimensional table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lookup {
    /// Between the first and the last point, both included.
    Inside(f64),
    /// Past an end.
    Beyond {
        /// The value at the nearest edge of the table.
        edge_value: f64,
        /// Distance past that edge along the axis, in the axis' unit: negative below the first point, positive above
        /// the last; infinite for an argument that is not a number. For a [`Grid`]: the larger of the two distances as a
        /// share of its axis' span.
        excess: f64,
    },
}

impl Lookup {
    /// The value, if the table covers the argument.
    pub const fn inside(self) -> Option<f64> {
        match self {
            Self::Inside(value) => Some(value),
            Self::Beyond { .. } => None,
        }
    }

    /// The value, or the edge's value; the caller states by this name that holding the edge is meant.
    pub const fn held_at_edge(self) -> f64 {
        match self {
            Self::Inside(value)
            | Self::Beyond {
                edge_value: value, ..
            } => value,
        }
    }

    /// Distance past the edge, zero inside.
    pub const fn excess(self) -> f64 {
        match self {
            Self::Inside(_) => 0.0,
            Self::Beyond { excess, .. } => excess,
        }
    }
}

/// Why a table was refused.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum TableError {
    /// Fewer than two points.
    TooShort {
        /// Points given.
        points: usize,
    },
    /// The axis does not increase from this point to the next.
    NotIncreasing {
        /// Index of the earlier point.
        index: usize,
        /// Value there.
        value: f64,
        /// Value of the next point.
        next: f64,
    },
    /// A value or axis point is NaN or infinite.
    NotFinite {
        /// Index of the point.
        index: usize,
    },
    /// As many values as axis points (or rows times columns) are needed.
    LengthMismatch {
        /// Values needed.
        expected: usize,
        /// Values given.
        found: usize,
    },
}

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::TooShort { points } => {
                write!(f, "a table needs at least 2 points, this has {points}")
            }
            Self::NotIncreasing { index, value, next } => write!(
                f,
                "table axis must increase: point {} is {value}, point {} is {next}",
                index + 1,
                index + 2
            ),
            Self::NotFinite { index } => {
                write!(f, "table entry {} is not a finite number", index + 1)
            }
            Self::LengthMismatch { expected, found } => {
                write!(f, "table needs {expected} values, found {found}")
            }
        }
    }
}

impl std::error::Error for TableError {}

fn all_finite(values: &[f64]) -> Result<(), TableError> {
    values
        .iter()
        .position(|v| !v.is_finite())
        .map_or(Ok(()), |index| Err(TableError::NotFinite { index }))
}

/// Strictly increasing points along which a table is given.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    points: Vec<f64>,
}

/// Where an argument lies on an axis.
struct Place {
    /// Index of the interval's lower point.
    segment: usize,
    /// Position in the interval, 0 at the lower point, 1 at the upper.
    share: f64,
    /// Distance past the nearest end; zero inside.
    excess: f64,
}

impl Axis {
    /// Checks that the points are finite, at least two, and increase.
    pub fn new(points: Vec<f64>) -> Result<Self, TableError> {
        if points.len() < 2 {
            return Err(TableError::TooShort {
                points: points.len(),
            });
        }
        all_finite(&points)?;
        if let Some(index) = points.windows(2).position(|w| w[1] <= w[0]) {
            return Err(TableError::NotIncreasing {
                index,
                value: points[index],
                next: points[index + 1],
            });
        }
        Ok(Self { points })
    }

    /// The points.
    pub fn points(&self) -> &[f64] {
        &self.points
    }

    /// First point.
    pub fn first(&self) -> f64 {
        self.points[0]
    }

    /// Last point.
    pub fn last(&self) -> f64 {
        self.points[self.points.len() - 1]
    }

    fn place(&self, x: f64) -> Place {
        let last_segment = self.points.len() - 2;
        if x.is_nan() {
            return Place {
                segment: 0,
                share: 0.0,
                excess: f64::INFINITY,
            };
        }
        if x < self.first() {
            return Place {
                segment: 0,
                share: 0.0,
                excess: x - self.first(),
            };
        }
        if x >= self.last() {
            return Place {
                segment: last_segment,
                share: 1.0,
                excess: x - self.last(),
            };
        }
        let segment = self
            .points
            .partition_point(|&p| p <= x)
            .saturating_sub(1)
            .min(last_segment);
        let lower = self.points[segment];
        let share = (x - lower) / (self.points[segment + 1] - lower);
        Place {
            segment,
            share,
            excess: 0.0,
        }
    }
}

fn lookup(value: f64, excess: f64) -> Lookup {
    if excess == 0.0 {
        Lookup::Inside(value)
    } else {
        Lookup::Beyond {
            edge_value: value,
            excess,
        }
    }
}

/// Straight lines between points.
#[derive(Clone, Debug, PartialEq)]
pub struct LinearTable {
    axis: Axis,
    values: Vec<f64>,
}

impl LinearTable {
    /// One finite value for each axis point.
    pub fn new(axis: Axis, values: Vec<f64>) -> Result<Self, TableError> {
        check_values(&values, axis.points.len())?;
        Ok(Self { axis, values })
    }

    /// The axis.
    pub const fn axis(&self) -> &Axis {
        &self.axis
    }

    /// The values at the axis points.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// Reads the table.
    pub fn at(&self, x: f64) -> Lookup {
        let place = self.axis.place(x);
        let (a, b) = (self.values[place.segment], self.values[place.segment + 1]);
        lookup(mix(a, b, place.share), place.excess)
    }
}

fn check_values(values: &[f64], expected: usize) -> Result<(), TableError> {
    if values.len() != expected {
        return Err(TableError::LengthMismatch {
            expected,
            found: values.len(),
        });
    }
    all_finite(values)
}

/// Exact at both ends, so that a reading at a point returns the point.
fn mix(a: f64, b: f64, share: f64) -> f64 {
    (1.0 - share) * a + share * b
}

/// Smooth curve between points that never overshoots them: rises where the points rise, flat at a local top.
#[derive(Clone, Debug, PartialEq)]
pub struct PchipTable {
    axis: Axis,
    values: Vec<f64>,
    slopes: Vec<f64>,
}

impl PchipTable {
    /// One finite value for each axis point; the slopes at the points are set once, here.
    ///
    /// ```text
    /// d_k = 0                                           where δ_{k−1} δ_k ≤ 0
    /// d_k = (w₁ + w₂) / (w₁/δ_{k−1} + w₂/δ_k)           elsewhere, w₁ = 2h_k + h_{k−1}, w₂ = h_k + 2h_{k−1}
    /// ```
    ///
    /// with interval widths h and chord slopes δ; at the ends the three-point slope, cut to keep the shape.
    /// Source: F. N. Fritsch & J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300; end rule as in C. Moler,
    /// Numerical Computing with MATLAB, ch. 3 (both from memory); the numbers agree with `SciPy`'s (tests).
    pub fn new(axis: Axis, values: Vec<f64>) -> Result<Self, TableError> {
        check_values(&values, axis.points.len())?;
        let slopes = pchip_slopes(&axis.points, &values);
        Ok(Self {
            axis,
            values,
            slopes,
        })
    }

    /// The axis.
    pub const fn axis(&self) -> &Axis {
        &self.axis
    }

    /// The values at the axis points.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// Reads the curve.
    pub fn at(&self, x: f64) -> Lookup {
        let place = self.axis.place(x);
        let (k, t) = (place.segment, place.share);
        let h = self.axis.points[k + 1] - self.axis.points[k];
        let (t2, s) = (t * t, 1.0 - t);
        let (s2, rise) = (s * s, t2 * (3.0 - 2.0 * t));
        let value = (1.0 - rise) * self.values[k]
            + rise * self.values[k + 1]
            + h * (t * s2 * self.slopes[k] - t2 * s * self.slopes[k + 1]);
        lookup(value, place.excess)
    }

    /// Slope of the curve, value unit per axis unit; past an end the slope at that end, marked as beyond.
    pub fn slope_at(&self, x: f64) -> Lookup {
        let place = self.axis.place(x);
        let (k, t) = (place.segment, place.share);
        let chord =
            (self.values[k + 1] - self.values[k]) / (self.axis.points[k + 1] - self.axis.points[k]);
        let slope = 6.0 * t * (1.0 - t) * chord
            + (1.0 - t) * (1.0 - 3.0 * t) * self.slopes[k]
            + t * (3.0 * t - 2.0) * self.slopes[k + 1];
        lookup(slope, place.excess)
    }
}

fn pchip_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let chord: Vec<f64> = y
        .windows(2)
        .zip(&h)
        .map(|(w, h)| (w[1] - w[0]) / h)
        .collect();
    let n = x.len();
    if n == 2 {
        return vec![chord[0]; 2];
    }
    let mut slopes = vec![0.0; n];
    for k in 1..n - 1 {
        let (before, after) = (chord[k - 1], chord[k]);
        if before * after > 0.0 {
            let (w1, w2) = (2.0 * h[k] + h[k - 1], h[k] + 2.0 * h[k - 1]);
            slopes[k] = (w1 + w2) / (w1 / before + w2 / after);
        }
    }
    slopes[0] = pchip_end_slope(h[0], h[1], chord[0], chord[1]);
    slopes[n - 1] = pchip_end_slope(h[n - 2], h[n - 3], chord[n - 2], chord[n - 3]);
    slopes
}

fn pchip_end_slope(h0: f64, h1: f64, chord0: f64, chord1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * chord0 - h0 * chord1) / (h0 + h1);
    if slope * chord0 <= 0.0 {
        0.0
    } else if chord0 * chord1 < 0.0 && slope.abs() > 3.0 * chord0.abs() {
        3.0 * chord0
    } else {
        slope
    }
}

/// A map over two axes, bilinear between points.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    x: Axis,
    y: Axis,
    values: Vec<f64>,
}

impl Grid {
    /// Values row by row: `values[i * y.len() + j]` belongs to `x[i]`, `y[j]`.
    pub fn new(x: Axis, y: Axis, values: Vec<f64>) -> Result<Self, TableError> {
        check_values(&values, x.points.len() * y.points.len())?;
        Ok(Self { x, y, values })
    }

    /// The first axis.
    pub const fn x(&self) -> &Axis {
        &self.x
    }

    /// The second axis.
    pub const fn y(&self) -> &Axis {
        &self.y
    }

    /// Reads the map; past an edge the excess is the larger overrun as a share of its axis' span.
    pub fn at(&self, x: f64, y: f64) -> Lookup {
        let (px, py) = (self.x.place(x), self.y.place(y));
        let columns = self.y.points.len();
        let corner = px.segment * columns + py.segment;
        let low = mix(self.values[corner], self.values[corner + 1], py.share);
        let high = mix(
            self.values[corner + columns],
            self.values[corner + columns + 1],
            py.share,
        );
        let over_x = px.excess / (self.x.last() - self.x.first());
        let over_y = py.excess / (self.y.last() - self.y.first());
        let excess = if over_x.abs() >= over_y.abs() {
            over_x
        } else {
            over_y
        };
        lookup(mix(low, high, px.share), excess)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Argument, value, slope: `SciPy` 1.17.1 `PchipInterpolator` and its derivative on the points of the test below.
    const PCHIP_SCIPY: [(f64, f64, f64); 11] = [
        (0.0, 0.0, 1.2666666666666666),
        (0.25, 0.31012931034482755, 1.2008620689655172),
        (1.0, 1.0, 0.5172413793103449),
        (1.9, 1.3984827586206896, 0.31448275862068964),
        (2.5, 1.5, 0.0),
        (3.1, 1.3943999999999999, -0.28800000000000003),
        (4.0, 1.2, 0.0),
        (4.45, 1.7097835020242917, 2.0015526315789476),
        (5.5, 4.3049974696356275, 2.919998313090418),
        (6.9, 9.541995512820513, 4.526578609986506),
        (7.0, 10.0, 4.633333333333335),
    ];

    fn axis(points: &[f64]) -> Axis {
        Axis::new(points.to_vec()).expect("test axis is increasing")
    }

    fn inside(lookup: Lookup) -> f64 {
        lookup.inside().expect("argument is inside the table")
    }

    #[test]
    fn pchip_agrees_with_the_general_purpose_library() {
        // The same formulas in another order of operations: rounding only.
        let x = [0.0, 1.0, 2.5, 4.0, 5.0, 7.0];
        let y = [0.0, 1.0, 1.5, 1.2, 3.0, 10.0];
        let table = PchipTable::new(axis(&x), y.to_vec()).expect("valid table");
        for (x, value, slope) in PCHIP_SCIPY {
            assert!(
                (inside(table.at(x)) - value).abs() < 1e-14 * value.abs().max(1.0),
                "{x}"
            );
            assert!(
                (inside(table.slope_at(x)) - slope).abs() < 1e-13 * slope.abs().max(1.0),
                "{x}"
            );
        }
    }

    #[test]
    fn pchip_never_leaves_the_range_of_its_neighbours() {
        let x: Vec<f64> = (0..12)
            .map(|i| f64::from(i * i) / 7.0 + f64::from(i))
            .collect();
        let y: Vec<f64> = (0..12).map(|i| f64::from((i * 7 + 3) % 5)).collect();
        let table = PchipTable::new(axis(&x), y.clone()).expect("valid table");
        for (k, w) in x.windows(2).enumerate() {
            let (low, high) = (y[k].min(y[k + 1]), y[k].max(y[k + 1]));
            for i in 0..=20 {
                let v = inside(table.at(w[0] + (w[1] - w[0]) * (f64::from(i) / 20.0).min(1.0)));
                assert!(
                    v >= low - 1e-12 && v <= high + 1e-12,
                    "segment {k}: {v} outside {low}..{high}"
                );
            }
        }
    }

    #[test]
    fn a_plane_is_read_exactly_and_points_return_themselves() {
        let (xs, ys) = ([0.0, 2.0, 3.0], [-1.0, 4.0]);
        let plane = |x: f64, y: f64| 1.0 + 2.0 * x - 3.0 * y;
        let values = xs
            .iter()
            .flat_map(|&x| ys.iter().map(move |&y| plane(x, y)))
            .collect();
        let grid = Grid::new(axis(&xs), axis(&ys), values).expect("valid grid");
        for (x, y) in [(0.0, -1.0), (3.0, 4.0), (2.0, 0.3), (0.7, 3.9)] {
            assert!((inside(grid.at(x, y)) - plane(x, y)).abs() < 1e-14);
        }
        let line = LinearTable::new(axis(&xs), vec![0.1, 0.7, 0.3]).expect("valid table");
        assert_eq!(xs.map(|x| inside(line.at(x))), [0.1, 0.7, 0.3]);
    }

    #[test]
    fn past_an_edge_the_reading_says_so_and_by_how_much() {
        let line =
            LinearTable::new(axis(&[1.0, 2.0, 4.0]), vec![10.0, 20.0, 5.0]).expect("valid table");
        assert_eq!(
            line.at(4.5),
            Lookup::Beyond {
                edge_value: 5.0,
                excess: 0.5
            }
        );
        assert_eq!(
            line.at(0.0),
            Lookup::Beyond {
                edge_value: 10.0,
                excess: -1.0
            }
        );
        assert_eq!(line.at(f64::NAN).excess(), f64::INFINITY);
        assert_eq!(line.at(4.0), Lookup::Inside(5.0));
        let grid = Grid::new(
            axis(&[0.0, 10.0]),
            axis(&[0.0, 1.0]),
            vec![0.0, 1.0, 2.0, 3.0],
        )
        .expect("valid grid");
        assert_eq!(
            grid.at(12.0, -0.5),
            Lookup::Beyond {
                edge_value: 2.0,
                excess: -0.5
            }
        );
    }

    #[test]
    fn a_bad_axis_is_refused_with_the_point_named() {
        assert_eq!(
            Axis::new(vec![1.0]),
            Err(TableError::TooShort { points: 1 })
        );
        assert_eq!(
            Axis::new(vec![1.0, f64::NAN]),
            Err(TableError::NotFinite { index: 1 })
        );
        let error = Axis::new(vec![0.0, 2.0, 2.0]).expect_err("a repeated point does not increase");
        assert_eq!(
            error.to_string(),
            "table axis must increase: point 2 is 2, point 3 is 2"
        );
        let short =
            LinearTable::new(axis(&[0.0, 1.0]), vec![1.0]).expect_err("one value is missing");
        assert_eq!(short.to_string(), "table needs 2 values, found 1");
    }
}
