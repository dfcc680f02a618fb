//! Two causes at once: one at the rig with one in the car, or any with a spark that is held back.
//!
//! Exists because a pull that nobody understands often has two faults, and because the harmless one may hide the dangerous one. Of the many
//! pairs only those are searched whose changes, added to each other, come near the log; their evidence is then found as that of a single
//! cause. It refuses three, and two faults of the car other than spark: they would explain anything.

use super::cause::{Cause, Origin};
use super::disturb::{Fault, Scene};
use super::judge::Judge;
use super::rival::{AtSizes, Rival, Search};
use super::shape::Shape;
use super::suspect::Explained;
use crate::numeric::side_by_side;
use nalgebra::{DMatrix, DVector};

/// A cause that has been looked at alone: the places of its grid, and where its search ended, in standardised sizes.
pub(super) struct Alone {
    pub(super) fault: Fault,
    pub(super) grid: Vec<AtSizes>,
    pub(super) peak: Vec<f64>,
}

/// Two causes to be searched together, with the places to start from.
struct Start {
    faults: [Fault; 2],
    places: Vec<Vec<f64>>,
}

/// The changes that a cause makes at sizes over its range.
///
/// Between two places that are neighbours along one size the change is taken for straight, so that a sharp log is met between them too.
struct Looked<'a> {
    alone: &'a Alone,
    /// Standardised sizes, a place each.
    places: Vec<Vec<f64>>,
    /// What is then seen, whitened, a column a place.
    changes: DMatrix<f64>,
    /// Neighbours; a place alone is its own.
    steps: Vec<(usize, usize)>,
}

impl<'a> Looked<'a> {
    /// Of the places at which a cause was looked at; nothing where there is none.
    fn of(alone: &'a Alone, white: impl Fn(&AtSizes) -> Option<DVector<f64>>) -> Option<Self> {
        let (places, changes): (Vec<Vec<f64>>, Vec<DVector<f64>>) = alone
            .grid
            .iter()
            .filter_map(|at| Some((at.z.clone(), white(at)?)))
            .unzip();
        (!places.is_empty()).then(|| Self {
            alone,
            steps: neighbours(&places),
            changes: DMatrix::from_columns(&changes),
            places,
        })
    }

    fn belief(&self, a: usize, b: usize) -> f64 {
        let both = self.places[a].iter().zip(&self.places[b]);
        both.map(|(a, b)| a * b).sum()
    }
}

/// Places that follow each other along one size, with the others as they are.
fn neighbours(places: &[Vec<f64>]) -> Vec<(usize, usize)> {
    let mut steps = Vec::new();
    for (a, from) in places.iter().enumerate() {
        for axis in 0..from.len() {
            let apart = |to: &Vec<f64>| {
                let others = (0..from.len()).filter(|i| *i != axis);
                let along = others.into_iter().all(|i| to[i] == from[i]) && to[axis] > from[axis];
                along.then(|| to[axis] - from[axis])
            };
            let next = places
                .iter()
                .enumerate()
                .filter_map(|(b, to)| Some((b, apart(to)?)));
            if let Some((b, _)) = next.min_by(|x, y| x.1.total_cmp(&y.1)) {
                steps.push((a, b));
            }
        }
    }
    if steps.is_empty() {
        steps.push((0, 0));
    }
    steps
}

/// Whether two causes are weighed together.
fn goes_with(a: Fault, b: Fault) -> bool {
    let place = |f: Fault| f.cause.place();
    let apart = a.cause != b.cause;
    let rig_and_car = place(a) == Origin::Rig && place(b) == Origin::Car;
    // The clutch's trace and a lift's stand on what the engine gives; a pair with them is one with what is left.
    let spark = b.cause == Cause::KnockRetard && place(a) == Origin::Car;
    apart && (rig_and_car || spark)
}

/// Most pairs searched.
const MOST: usize = 6;
/// Last step of their climb in standardised sizes.
const LAST_STEP: f64 = 0.1;
/// How much of the log two causes must explain beyond the better of them, and beyond the likeliest cause alone, as a fall of half the squared
/// residual, to be searched: about what a second cause costs before the log is read.
/// Equation (10.4).
const GAINS: f64 = 4.0;

/// What the pairs that come nearest make of the log, but for those that leave half of it.
pub(super) fn explained(
    (scene, judge): (&Scene<'_>, &Judge),
    alone: &[Alone],
    likeliest: &Explained,
) -> Vec<Explained> {
    let starts = nearest((scene, judge), alone, likeliest).unwrap_or_default();
    let explained = side_by_side(starts.len(), |index| {
        let Start { faults, places } = &starts[index];
        let faults = faults.to_vec();
        let rival = Rival {
            scene,
            judge,
            faults,
        };
        rival.explain_from(places)
    });
    let explained = explained.into_iter().flatten();
    explained
        .filter(|pair| !judge.leaves_half(scene, &pair.shown))
        .collect()
}

/// The pairs whose changes added to each other come nearest to the log, and nearer than the likeliest single cause, with the sizes. What is
/// certain to be the rig's doing is taken off before the rest is doubted.
fn nearest(
    (scene, judge): (&Scene<'_>, &Judge),
    alone: &[Alone],
    likeliest: &Explained,
) -> Option<Vec<Start>> {
    let at_rig = likeliest.cause.place() == Origin::Rig;
    let rough = judge.rough(scene, at_rig.then_some(&*likeliest.shown))?;
    let seen = judge.whitened_seen(scene, &rough)?;
    let white = |at: &AtSizes| judge.whitened_change(scene, &at.shown, &rough);
    let looked: Vec<Looked<'_>> = alone
        .iter()
        .filter_map(|alone| Looked::of(alone, white))
        .collect();
    Some(nearest_of(&looked, &seen, likeliest.cause))
}

fn nearest_of(looked: &[Looked<'_>], seen: &DVector<f64>, likeliest: Cause) -> Vec<Start> {
    let towards: Vec<DVector<f64>> = looked.iter().map(|l| l.changes.tr_mul(seen)).collect();
    let own: Vec<DMatrix<f64>> = looked
        .iter()
        .map(|l| {
            let changes = l.changes.tr_mul(&l.changes);
            changes.map_with_location(|a, b, c| c + l.belief(a, b))
        })
        .collect();
    // Half the squared residual of a log that shows nothing is common to all, and left out.
    let alone: Vec<f64> = (0..looked.len())
        .map(|i| {
            let steps = looked[i].steps.iter();
            let depth = |step: &(usize, usize)| Valley::of(*step, &towards[i], &own[i]).lowest().1;
            steps.map(depth).fold(f64::INFINITY, f64::min)
        })
        .collect();
    let of_likeliest = looked
        .iter()
        .zip(&alone)
        .filter(|(l, _)| l.alone.fault.cause == likeliest);
    let bar = of_likeliest
        .map(|(_, depth)| *depth)
        .fold(f64::INFINITY, f64::min);
    let mut found: Vec<(f64, Start)> = Vec::new();
    for (i, a) in looked.iter().enumerate() {
        for (j, b) in looked.iter().enumerate() {
            let faults = [a.alone.fault, b.alone.fault];
            if !goes_with(faults[0], faults[1]) {
                continue;
            }
            let cross = a.changes.tr_mul(&b.changes);
            let mut best = (f64::INFINITY, [Vec::new(), Vec::new()]);
            for of_a in &a.steps {
                let one = Valley::of(*of_a, &towards[i], &own[i]);
                for of_b in &b.steps {
                    let other = Valley::of(*of_b, &towards[j], &own[j]);
                    let (shares, depth) = together(&one, &other, &cross, (*of_a, *of_b));
                    if depth < best.0 {
                        let z = [between(a, *of_a, shares.0), between(b, *of_b, shares.1)];
                        best = (depth, z);
                    }
                }
            }
            if best.0 < bar.min(alone[i]).min(alone[j]) - GAINS {
                let [x, y] = best.1;
                let (p, q) = (&a.alone.peak, &b.alone.peak);
                let places =
                    [(&x, &y), (&x, q), (p, &y), (p, q)].map(|(a, b)| [a.as_slice(), b].concat());
                found.push((
                    best.0,
                    Start {
                        faults,
                        places: places.to_vec(),
                    },
                ));
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    // One form of two causes is enough.
    let mut kept: Vec<Start> = Vec::new();
    for (_, start) in found {
        let causes = |start: &Start| start.faults.map(|f| f.cause);
        let known = kept.iter().any(|k| causes(k) == causes(&start));
        if !known && kept.len() < MOST {
            kept.push(start);
        }
    }
    kept
}

/// Half the squared residual from one place to its neighbour, less that of a log that shows nothing: `level + slope t + bend t²/2`.
struct Valley {
    level: f64,
    slope: f64,
    bend: f64,
}

impl Valley {
    /// From how far each change goes towards what was seen, and the products of changes with each other.
    fn of((from, to): (usize, usize), towards: &DVector<f64>, own: &DMatrix<f64>) -> Self {
        Self {
            level: 0.5 * own[(from, from)] - towards[from],
            slope: own[(from, to)] - own[(from, from)] - (towards[to] - towards[from]),
            bend: (own[(to, to)] - 2.0 * own[(from, to)] + own[(from, from)]).max(0.0),
        }
    }

    fn at(&self, t: f64) -> f64 {
        self.level + (self.slope + 0.5 * self.bend * t) * t
    }

    /// The lowest place between the two, and how low it is.
    fn lowest(&self) -> (f64, f64) {
        let t = lowest_between(self.slope, self.bend);
        (t, self.at(t))
    }
}

/// Where `slope t + bend t²/2` is lowest between 0 and 1.
fn lowest_between(slope: f64, bend: f64) -> f64 {
    if bend > 0.0 {
        (-slope / bend).clamp(0.0, 1.0)
    } else {
        f64::from(u8::from(slope < 0.0))
    }
}

/// The lowest place of two valleys whose changes add up, and how low it is.
fn together(
    one: &Valley,
    other: &Valley,
    cross: &DMatrix<f64>,
    ((a, a_to), (b, b_to)): ((usize, usize), (usize, usize)),
) -> ((f64, f64), f64) {
    let level = cross[(a, b)];
    let along_one = cross[(a_to, b)] - level;
    let along_other = cross[(a, b_to)] - level;
    let mixed = cross[(a_to, b_to)] - cross[(a_to, b)] - cross[(a, b_to)] + level;
    let depth = |(t, u): (f64, f64)| {
        one.at(t) + other.at(u) + level + along_one * t + along_other * u + mixed * t * u
    };
    let (p, q) = (one.slope + along_one, other.slope + along_other);
    let u_at = |t: f64| (t, lowest_between(q + mixed * t, other.bend));
    let t_at = |u: f64| (lowest_between(p + mixed * u, one.bend), u);
    let det = one.bend * other.bend - mixed * mixed;
    let inside = (
        (mixed * q - other.bend * p) / det,
        (mixed * p - one.bend * q) / det,
    );
    let fits = |t: f64| (0.0..=1.0).contains(&t);
    let inside = (det > 0.0 && fits(inside.0) && fits(inside.1)).then_some(inside);
    let edges = [u_at(0.0), u_at(1.0), t_at(0.0), t_at(1.0)];
    let places = inside
        .into_iter()
        .chain(edges)
        .map(|place| (place, depth(place)));
    // Without a lowest place inside, it lies on an edge.
    places
        .min_by(|x, y| x.1.total_cmp(&y.1))
        .unwrap_or(((0.0, 0.0), f64::INFINITY))
}

/// Sizes between a place and its neighbour.
fn between(looked: &Looked<'_>, (from, to): (usize, usize), share: f64) -> Vec<f64> {
    let both = looked.places[from].iter().zip(&looked.places[to]);
    both.map(|(a, b)| a + share * (b - a)).collect()
}

impl Rival<'_> {
    /// As [`Rival::explain`], of two causes from the best of some places: a climb and a step of Gauss–Newton, twice.
    pub(super) fn explain_from(&self, places: &[Vec<f64>]) -> Option<Explained> {
        let sizes = self.sizes();
        let search = Search::of(self, &sizes);
        let starts = places.iter().filter_map(|z| search.at(z, None));
        let mut best = starts.max_by(|a, b| a.log_p.total_cmp(&b.log_p))?;
        let mut shape = None;
        for _ in 0..2 {
            let factors = self.factors(&best)?;
            best = search.at(&best.z, Some(&factors))?;
            search.climb(&mut best, &factors, LAST_STEP);
            if let Some((next, curvature)) = search.step(&best, &factors) {
                shape = Some(Shape::of(curvature));
                if next.log_p > best.log_p {
                    best = next;
                }
            }
        }
        let best = search.at(&best.z, None)?;
        self.told(&sizes, best, shape?, search.trials())
    }
}

#[cfg(test)]
mod tests {
    use super::super::form::Form;
    use super::*;

    fn alone(cause: Cause) -> Alone {
        let form = Form::Plain;
        Alone {
            fault: Fault { cause, form },
            grid: Vec::new(),
            peak: vec![0.0],
        }
    }

    /// A cause whose change grows in proportion to its size.
    fn looked<'a>(alone: &'a Alone, change: &[f64]) -> Looked<'a> {
        let places: Vec<Vec<f64>> = [-1.6, -0.8, 0.0, 0.8, 1.6].map(|z| vec![z]).to_vec();
        let change = DVector::from_column_slice(change);
        let columns: Vec<DVector<f64>> = places.iter().map(|z| &change * z[0]).collect();
        Looked {
            alone,
            steps: neighbours(&places),
            changes: DMatrix::from_columns(&columns),
            places,
        }
    }

    #[test]
    fn two_changes_are_met_between_the_places_of_their_grids() {
        let (rig, car) = (alone(Cause::DrumInertia), alone(Cause::Drag));
        // As sharp as a fact about the rig: a fifth of a step away it would be missed by 30 standard deviations.
        let causes = [
            looked(&rig, &[200.0, 30.0, 30.0]),
            looked(&car, &[0.0, -40.0, -80.0]),
        ];
        let seen = DVector::from_column_slice(&[
            0.35 * 200.0,
            0.35 * 30.0 - 1.3 * 40.0,
            0.35 * 30.0 - 1.3 * 80.0,
        ]);
        let found = nearest_of(&causes, &seen, Cause::NoneOfThese);
        assert_eq!(found.len(), 1);
        assert_eq!(
            found[0].faults.map(|f| f.cause),
            [Cause::DrumInertia, Cause::Drag]
        );
        // The belief in either size pulls by a share of the inverse square of what it changes.
        let z = &found[0].places[0];
        assert!(
            (z[0] - 0.35).abs() < 0.001 && (z[1] - 1.3).abs() < 0.002,
            "{z:?}"
        );
        // What the likeliest explains as well is not asked about.
        let one = DVector::from_column_slice(&[70.0, 10.5, 10.5]);
        assert!(nearest_of(&causes, &one, Cause::DrumInertia).is_empty());
    }

    #[test]
    fn the_lowest_place_of_two_valleys_is_lower_than_all_others() {
        // Three changes of the first and of the second, by a fixed congruence.
        let mut seed = 7_u64;
        let mut number = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        for _ in 0..200 {
            let mut matrix = |columns: usize| DMatrix::from_fn(4, columns, |_, _| number());
            let (a, b, seen) = (matrix(2), matrix(2), matrix(1));
            let valley = |m: &DMatrix<f64>| {
                let towards = m.tr_mul(&seen).column(0).into_owned();
                Valley::of((0, 1), &towards, &m.tr_mul(m))
            };
            let cross = a.tr_mul(&b);
            let (place, depth) = together(&valley(&a), &valley(&b), &cross, ((0, 1), (0, 1)));
            let squared = |t: f64, u: f64| {
                let of = |m: &DMatrix<f64>, t: f64| m.column(0) + (m.column(1) - m.column(0)) * t;
                let rest = seen.column(0) - of(&a, t) - of(&b, u);
                0.5 * (rest.norm_squared() - seen.norm_squared())
            };
            assert!((squared(place.0, place.1) - depth).abs() < 1e-12);
            for i in 0..=20 {
                for j in 0..=20 {
                    let (t, u) = (0.05 * f64::from(i), 0.05 * f64::from(j));
                    assert!(squared(t, u) > depth - 1e-12, "{t} {u}");
                }
            }
        }
    }
}
