//! The knock maps around one cylinder on one fuel: whole maps at steps of λ and beside the cylinder's own lengths and compression
//! ratio, made when first asked for, and parabolas between.
//!
//! Exists because draws of a car, and a search for a mixture, ask for hundreds of maps of cylinders almost alike, and each costs a
//! millisecond. It refuses another fuel and a cylinder far from its own: those need another of these.
//!
//! Source: derived by tabulating [`KnockMap`]; what the parabolas cost is measured in `validation/knock.rs`.

use super::geometry::CylinderGeometry;
use super::knock_map::{KnockMap, KnockMapInput};
use super::whole_part;
use std::array;
use std::fmt;
use std::sync::OnceLock;

/// Two steps are one parabola, and the places where the gas of a map bends stand between two of them: λ = 0.5, 0.75 and 1.
const LAMBDA_STEP: f64 = 1.0 / 16.0;
const LAMBDA_NODES: usize = 33;
/// Bore, stroke, rod and compression ratio, each in its logarithm.
const AXES: usize = 4;
/// Nodes stand so far to either side of the cylinder's own.
const STEP: f64 = 0.06;
/// The farthest that the parabola through them is followed.
const REACH: f64 = 0.2;

/// The maps of one mixture: of the cylinder itself, and of those beside it, smaller and larger along each axis.
#[derive(Debug, Clone, Default)]
struct OfMixture {
    own: OnceLock<Box<KnockMap>>,
    beside: [[OnceLock<Box<KnockMap>>; 2]; AXES],
}

/// Knock maps of one cylinder and those near it, on one fuel at any mixture.
#[derive(Clone)]
pub struct KnockMaps {
    input: KnockMapInput,
    made: Vec<OfMixture>,
}

/// What they are made for alone: which of them are made by now is no property of a car, and names of inputs are taken of this text.
impl fmt::Debug for KnockMaps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("KnockMaps").field(&self.input).finish()
    }
}

impl KnockMaps {
    /// Nothing is made yet; the λ of the input is not used.
    pub fn new(input: KnockMapInput) -> Self {
        Self {
            input,
            made: vec![OfMixture::default(); LAMBDA_NODES],
        }
    }

    /// Whether a map can be had here: the cylinder is this one or near it, and the fuel this one but for its octane, which no map knows.
    pub fn hold(&self, input: &KnockMapInput) -> bool {
        let last = LAMBDA_STEP * (LAMBDA_NODES as f64 - 1.0);
        let own = KnockMapInput {
            geometry: input.geometry,
            lambda: input.lambda,
            ..self.input
        };
        own.is_like(input)
            && (0.0..last).contains(&input.lambda)
            && self.away(&input.geometry).iter().all(|d| d.abs() <= REACH)
    }

    /// The map for an input that these [`Self::hold`]; any other is made by itself.
    /// Equation (3.8).
    pub fn at(&self, input: &KnockMapInput) -> KnockMap {
        if !self.hold(input) {
            return KnockMap::build(input);
        }
        let place = input.lambda / LAMBDA_STEP;
        let first = 2 * whole_part(place / 2.0);
        let away = self.away(&input.geometry);
        let mut map = KnockMap::zero();
        for (column, of_lambda) in parabola(place - first as f64).into_iter().enumerate() {
            if of_lambda == 0.0 {
                continue;
            }
            let column = first + column;
            let mut of_own = of_lambda;
            for (axis, d) in away.into_iter().enumerate().filter(|(_, d)| *d != 0.0) {
                let [smaller, own, larger] = parabola(d / STEP + 1.0);
                of_own += of_lambda * (own - 1.0);
                for (side, weight) in [smaller, larger].into_iter().enumerate() {
                    map.add(of_lambda * weight, self.beside(column, axis, side));
                }
            }
            map.add(of_own, self.own(column));
        }
        map
    }

    /// How far a cylinder is from this one along each axis.
    fn away(&self, geometry: &CylinderGeometry) -> [f64; AXES] {
        let (own, other) = (sizes(&self.input.geometry), sizes(geometry));
        array::from_fn(|axis| (other[axis] / own[axis]).ln())
    }

    fn own(&self, column: usize) -> &KnockMap {
        self.made[column]
            .own
            .get_or_init(|| self.build(column, self.input.geometry))
    }

    fn beside(&self, column: usize, axis: usize, side: usize) -> &KnockMap {
        self.made[column].beside[axis][side].get_or_init(|| {
            let mut sizes = sizes(&self.input.geometry);
            sizes[axis] *= if side == 0 { -STEP } else { STEP }.exp();
            let [bore_m, stroke_m, rod_m, compression_ratio] = sizes;
            let geometry = CylinderGeometry {
                bore_m,
                stroke_m,
                rod_m,
                compression_ratio,
            };
            self.build(column, geometry)
        })
    }

    fn build(&self, column: usize, geometry: CylinderGeometry) -> Box<KnockMap> {
        Box::new(KnockMap::build(&KnockMapInput {
            geometry,
            lambda: LAMBDA_STEP * column as f64,
            ..self.input
        }))
    }
}

fn sizes(geometry: &CylinderGeometry) -> [f64; AXES] {
    [
        geometry.bore_m,
        geometry.stroke_m,
        geometry.rod_m,
        geometry.compression_ratio,
    ]
}

/// Weights of the parabola through three nodes at 0, 1 and 2.
fn parabola(place: f64) -> [f64; 3] {
    let (a, b, c) = (place, place - 1.0, place - 2.0);
    [b * c / 2.0, -a * c, a * b / 2.0]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_weights_hit_the_nodes_and_follow_a_parabola() {
        assert_eq!(parabola(1.0), [0.0, 1.0, 0.0]);
        for place in [-0.7, 0.3, 1.9, 2.4] {
            let found: f64 = parabola(place)
                .into_iter()
                .zip([3.0, 1.0, 5.0])
                .map(|(weight, value)| weight * value)
                .sum();
            // 3 − 5 x + 3 x².
            assert!((found - (3.0 + place * (3.0 * place - 5.0))).abs() < 1e-12);
        }
    }
}
