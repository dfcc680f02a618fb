//! One speed line of a centrifugal compressor, in quantities that hardly change from line to line.
//!
//! Exists because a maker's points are few, noisy and bunched: a line is described by a handful of shape numbers, found
//! from the points by damped least squares with weak shape priors, and only these are interpolated over speed. Heads are
//! divided by speed squared and flows by speed, so holding them outside the map is the similarity law. It refuses to
//! describe what happens in surge; there the line is held flat.

use nalgebra::{SMatrix, SVector};

/// Isentropic exponent in which heads of a map are written: `π = (1 + h)^3.5`, i.e. γ = 1.4.
pub(crate) const HEAD_POWER: f64 = 3.5;

/// Below this fraction of the top head the falling ellipse is continued by its tangent: choke.
const CHOKE_HEAD_FRACTION: f64 = 0.25;

/// Rise of the head from its top to zero flow, a fraction of the top: keeps the line strictly falling in flow.
const SURGE_RISE: f64 = 0.01;

/// Shape numbers of a line; all heads over speed², all flows over speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SpeedLine {
    /// Top of the head curve, `h₀ = π₀^((γ−1)/γ) − 1` over N².
    pub(crate) head: f64,
    /// Flow at the top, over N.
    pub(crate) top_flow: f64,
    /// Flow at which the ellipse reaches pressure ratio 1, over N.
    pub(crate) choke_flow: f64,
    /// Exponent of the super-ellipse; 2 to 4.
    pub(crate) exponent: f64,
    /// Lowest stable flow, over N.
    pub(crate) surge_flow: f64,
    /// Best efficiency of the line.
    pub(crate) efficiency: f64,
    /// Flow of best efficiency, over N.
    pub(crate) efficiency_flow: f64,
    /// Curvature of the efficiency: `η = η̂ − q (W/Ŵ − 1)²`.
    pub(crate) efficiency_fall: f64,
}

/// Head at one flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Head {
    /// `π^((γ−1)/γ) − 1`, over N².
    pub(crate) for_pressure: f64,
    /// Head on which the work is based: never below the choke join, where work goes on without pressure.
    pub(crate) for_work: f64,
    pub(crate) choked: bool,
}

impl SpeedLine {
    pub(crate) fn to_array(self) -> [f64; 8] {
        [
            self.head,
            self.top_flow,
            self.choke_flow,
            self.exponent,
            self.surge_flow,
            self.efficiency,
            self.efficiency_flow,
            self.efficiency_fall,
        ]
    }

    pub(crate) fn from_array(a: [f64; 8]) -> Self {
        let [
            head,
            top_flow,
            choke_flow,
            exponent,
            surge_flow,
            efficiency,
            efficiency_flow,
            efficiency_fall,
        ] = a;
        Self {
            head,
            top_flow,
            choke_flow,
            exponent,
            surge_flow,
            efficiency,
            efficiency_flow,
            efficiency_fall,
        }
    }

    /// Head at a flow: the super-ellipse `((W−W₀)/(W_ch−W₀))^c + (h/h₀)^c = 1`, flat towards surge, its tangent in choke.
    ///
    /// Source: control-oriented ellipse models of Llamas and Eriksson, J. Eng. GT Power 139 (2017) 012601 (abstract),
    /// written here in head instead of pressure ratio so that similarity holds exactly.
    /// Equation (5.3).
    pub(crate) fn head_at(&self, flow: f64) -> Head {
        let t = (flow - self.top_flow) / (self.choke_flow - self.top_flow);
        if t <= 0.0 {
            let u = 1.0 - (flow / self.top_flow).max(0.0);
            let head = self.head * (1.0 + SURGE_RISE * u * u);
            return Head {
                for_pressure: head,
                for_work: head,
                choked: false,
            };
        }
        let c = self.exponent;
        if t < 1.0 {
            let fraction = (1.0 - t.powf(c)).powf(1.0 / c);
            if fraction >= CHOKE_HEAD_FRACTION {
                let head = self.head * fraction;
                return Head {
                    for_pressure: head,
                    for_work: head,
                    choked: false,
                };
            }
        }
        let rest = CHOKE_HEAD_FRACTION.powf(c);
        let join = (1.0 - rest).powf(1.0 / c);
        let slope = -(join / CHOKE_HEAD_FRACTION).powf(c - 1.0);
        Head {
            for_pressure: self.head * (CHOKE_HEAD_FRACTION + slope * (t - join)),
            for_work: self.head * CHOKE_HEAD_FRACTION,
            choked: true,
        }
    }

    /// Efficiency before any floor.
    /// Equation (5.3).
    pub(crate) fn efficiency_at(&self, flow: f64) -> f64 {
        let u = flow / self.efficiency_flow - 1.0;
        self.efficiency - self.efficiency_fall * u * u
    }

    /// Shape numbers of one measured line: points of (flow over N, head over N², efficiency), rising in flow.
    pub(crate) fn fit(points: &[(f64, f64, f64)]) -> Self {
        let flow_scale = points.iter().fold(0.0, |m: f64, p| m.max(p.0));
        let head_scale = points.iter().fold(1e-12, |m: f64, p| m.max(p.1));
        let line = |p: &SVector<f64, 4>| Self {
            head: head_scale * p[0].exp(),
            choke_flow: flow_scale * p[1].exp(),
            top_flow: flow_scale * p[1].exp() / (1.0 + (-p[2]).exp()),
            exponent: 1.2 + p[3].exp(),
            surge_flow: 0.0,
            efficiency: 1.0,
            efficiency_flow: 1.0,
            efficiency_fall: 0.0,
        };
        // Doubt of a digitised head about 1.5 % of the top; the shape priors are four to twenty times wider than what
        // seven points say and matter only when a line has few points.
        let head_residual = |p: &SVector<f64, 4>| -> Vec<f64> {
            let l = line(p);
            let mut r: Vec<f64> = points
                .iter()
                .map(|q| (l.head_at(q.0).for_pressure - q.1) / (0.015 * head_scale))
                .collect();
            r.extend([
                (p[0]) / 0.2,
                (p[1] - 0.08) / 0.25,
                (p[2] + 0.8) / 0.8,
                (p[3] - 0.1) / 0.5,
            ]);
            r
        };
        let shape = line(&least_squares(
            SVector::from([0.0, 0.08, -0.8, 0.1]),
            head_residual,
        ));
        let peak = points.iter().fold(0.2, |m: f64, p| m.max(p.2));
        let mid = 0.6 * shape.choke_flow;
        let efficiency_residual = |p: &SVector<f64, 3>| -> Vec<f64> {
            let mut r: Vec<f64> = points
                .iter()
                .map(|q| {
                    let u = q.0 / (mid * p[1].exp()) - 1.0;
                    (p[0] - p[2].exp() * u * u - q.2) / 0.015
                })
                .collect();
            r.extend([(p[0] - peak) / 0.1, p[1] / 0.3, (p[2] + 0.3) / 0.5]);
            r
        };
        let e = least_squares(SVector::from([peak, 0.0, -0.3]), efficiency_residual);
        Self {
            surge_flow: points.iter().fold(f64::INFINITY, |m, p| m.min(p.0)),
            efficiency: e[0].clamp(0.25, 0.9),
            efficiency_flow: mid * e[1].exp(),
            efficiency_fall: e[2].exp(),
            ..shape
        }
    }
}

/// Damped Gauss-Newton with a difference Jacobian, for a handful of parameters of order one; done once per line.
fn least_squares<const P: usize>(
    start: SVector<f64, P>,
    residual: impl Fn(&SVector<f64, P>) -> Vec<f64>,
) -> SVector<f64, P> {
    let cost = |r: &[f64]| r.iter().map(|x| x * x).sum::<f64>();
    let (mut p, mut damping) = (start, 1e-2);
    let mut r = residual(&p);
    for _ in 0..200 {
        let columns: [Vec<f64>; P] = std::array::from_fn(|j| {
            let mut q = p;
            q[j] += 1e-6;
            let mut s = p;
            s[j] -= 1e-6;
            residual(&q)
                .iter()
                .zip(residual(&s))
                .map(|(a, b)| (a - b) / 2e-6)
                .collect()
        });
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let normal = SMatrix::<f64, P, P>::from_fn(|i, j| dot(&columns[i], &columns[j]));
        let gradient = SVector::<f64, P>::from_fn(|i, _| dot(&columns[i], &r));
        let mut damped = normal;
        for i in 0..P {
            damped[(i, i)] *= 1.0 + damping;
        }
        let Some(factor) = damped.cholesky() else {
            damping *= 10.0;
            continue;
        };
        let step = factor.solve(&gradient);
        let trial = p - step;
        let trial_residual = residual(&trial);
        if cost(&trial_residual) <= cost(&r) {
            let done = step.norm() < 1e-9;
            (p, r) = (trial, trial_residual);
            damping = (damping * 0.3).max(1e-9);
            if done {
                break;
            }
        } else {
            damping *= 8.0;
            if damping > 1e9 {
                break;
            }
        }
    }
    p
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: SpeedLine = SpeedLine {
        head: 0.3,
        top_flow: 0.35,
        choke_flow: 1.0,
        exponent: 2.4,
        surge_flow: 0.3,
        efficiency: 0.77,
        efficiency_flow: 0.62,
        efficiency_fall: 0.6,
    };

    #[test]
    fn the_line_falls_strictly_from_zero_flow_through_choke() {
        let mut before = f64::INFINITY;
        for k in 0..=150 {
            let now = LINE.head_at(0.01 * f64::from(k)).for_pressure;
            assert!(now < before, "flow {k} %");
            before = now;
        }
    }

    #[test]
    fn exact_points_give_the_line_back() {
        let points: Vec<_> = (3..=9)
            .map(|k| {
                let w = 0.1 * f64::from(k);
                (w, LINE.head_at(w).for_pressure, LINE.efficiency_at(w))
            })
            .collect();
        let fitted = SpeedLine::fit(&points);
        for k in 3..=9 {
            let w = 0.1 * f64::from(k);
            // 1 % of head and 0.005 of efficiency: the pull of the weak shape priors.
            assert!(
                (fitted.head_at(w).for_pressure / LINE.head_at(w).for_pressure - 1.0).abs() < 0.01,
                "{fitted:?}"
            );
            assert!((fitted.efficiency_at(w) - LINE.efficiency_at(w)).abs() < 0.005);
        }
    }
}
