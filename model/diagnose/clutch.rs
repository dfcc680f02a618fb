//! A pull with a clutch that breaks loose: the engine runs away from the gearbox until the torque has fallen enough to be held.
//!
//! Two masses instead of one. What the sound pull says of the engine at each of its speeds, and of the drum at each of its own, is
//! enough to follow them; torque after the clutch is told by what sound pulls turned into acceleration at the same drum speed. The engine
//! is stopped by its limiter. It refuses heat in the clutch: what it keeps while slipping is one number.

use crate::dyno::{Pull, PullPoint, Setup};
use crate::units;

/// What a log would show in one moment of such a pull.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    /// Time, s.
    time_s: f64,
    /// Engine speed, rpm.
    pub(super) rpm: f64,
    /// Power at the drums, W.
    pub(super) power_w: f64,
    /// Engine speed over that at which a locked clutch would turn it.
    pub(super) flare: f64,
}

/// Steps of a pull; halving them moves power by less than 1e-3 (test).
const STEPS: usize = 1500;
/// A pull that does not end in this time has no use, s.
const LONGEST_S: f64 = 60.0;

/// Follows a pull whose clutch lets go at an engine speed and then keeps a share of the greatest torque of the locked pull. Once it has
/// caught again it holds what it held at first.
///
/// ```text
/// J dω/dt = T(ω) − T_c,     dv/dt = a(v) T_c/T_locked(v),     P = m a v of the sound pull, in that proportion
/// ```
///
/// Source: derived, Newton's law on either side of the clutch.
/// Equation (10.8).
pub(super) fn slipping(
    setup: &Setup,
    sound: &Pull,
    (from_rpm, keeps): (f64, f64),
    limiter_rpm: f64,
) -> Vec<Moment> {
    let inertia = setup.car.driveline.parts.ahead_of_clutch_kg_m2();
    let rate_at = |rpm: f64| units::rad_s(climb_rpm_s(sound, rpm));
    let through = |rpm: f64| through_nm(setup, sound, rpm);
    let first = sound.points[0].rpm;
    let last = sound.points[sound.points.len() - 1].rpm;
    let most = sound
        .points
        .iter()
        .map(|p| through(p.rpm))
        .fold(0.0, f64::max);
    let slip_nm = keeps * most;
    // What it holds is known only once it has let go.
    let mut static_nm = f64::INFINITY;
    let total_s = sound.points[sound.points.len() - 1].time_s;
    let step_s = 1.5 * total_s / STEPS as f64;
    // The locked engine speed stands for the drum's.
    let (mut engine, mut locked, mut time_s) = (first, first, 0.0);
    let mut slips = false;
    let mut out = Vec::with_capacity(STEPS);
    while locked < last && time_s < LONGEST_S.min(4.0 * total_s) {
        let locked_nm = through(locked);
        if static_nm.is_infinite() && locked >= from_rpm {
            static_nm = locked_nm.max(slip_nm);
            slips = locked_nm > slip_nm;
        } else if !slips && locked_nm > static_nm {
            slips = true;
        }
        let at = |of: fn(&PullPoint) -> f64| sound.reading(locked, of);
        // What an electric axle gives does not pass the clutch.
        let (all_w, electric_w) = (at(|p| p.power_w), at(|p| p.electric_w));
        let engine_w = all_w - electric_w;
        let share = if slips {
            slip_nm / locked_nm.max(1e-6)
        } else {
            1.0
        };
        out.push(Moment {
            time_s,
            rpm: engine,
            power_w: electric_w + engine_w * share,
            flare: engine / locked,
        });
        let driven = (electric_w + engine_w * share) / all_w.max(1.0);
        locked += units::rpm(rate_at(locked) * driven * step_s);
        if slips {
            let torque_nm = sound.reading(engine, |p| p.engine.torque_nm);
            engine += units::rpm((torque_nm - slip_nm) / inertia * step_s);
            engine = engine.min(limiter_rpm);
            if engine <= locked {
                slips = false;
            }
        }
        if !slips {
            engine = locked;
        }
        time_s += step_s;
    }
    out
}

/// Torque through a locked clutch at an engine speed, N m.
fn through_nm(setup: &Setup, sound: &Pull, rpm: f64) -> f64 {
    let inertia = setup.car.driveline.parts.ahead_of_clutch_kg_m2();
    let rate = units::rad_s(climb_rpm_s(sound, rpm));
    sound.reading(rpm, |p| p.engine.torque_nm) - inertia * rate
}

/// Share of the greatest torque of a locked pull that a clutch has held which lets go at an engine speed.
pub(super) fn held(setup: &Setup, sound: &Pull, from_rpm: f64) -> f64 {
    let most = |until: f64| {
        let points = sound.points.iter().filter(|p| p.rpm <= until);
        points
            .map(|p| through_nm(setup, sound, p.rpm))
            .fold(through_nm(setup, sound, sound.points[0].rpm), f64::max)
    };
    let at = through_nm(setup, sound, from_rpm);
    (most(from_rpm).max(at) / most(f64::INFINITY).max(1e-6)).min(1.0)
}

/// Logarithm of the inertia at engine speed that a log of all this shows, but for a factor that all causes share.
pub(super) fn log_inertia(moments: &[Moment], from_drum: bool) -> Option<f64> {
    let reported = |m: &Moment| if from_drum { m.rpm / m.flare } else { m.rpm };
    let (first, last) = (reported(moments.first()?), reported(moments.last()?));
    let work_j: f64 = moments
        .windows(2)
        .map(|m| 0.5 * (m[0].power_w + m[1].power_w) * (m[1].time_s - m[0].time_s))
        .sum();
    (last > first).then(|| (work_j.max(1.0) / (last * last - first * first)).ln())
}

/// Means of what a log shows in a band.
#[derive(Debug, Clone, Copy)]
pub(super) struct InBand {
    /// Logarithm of power in W.
    pub(super) log_power: f64,
    /// Logarithm of the flare.
    pub(super) log_flare: f64,
    /// Engine speed, rpm.
    pub(super) engine_rpm: f64,
}

/// What a log shows in a band about a reported engine speed, `width_rpm` wide; `from_drum` where that speed is the drum's.
pub(super) fn in_band(
    moments: &[Moment],
    rpm: f64,
    width_rpm: f64,
    from_drum: bool,
) -> Option<InBand> {
    let reported = |m: &Moment| if from_drum { m.rpm / m.flare } else { m.rpm };
    let off = |m: &Moment| (reported(m) - rpm).abs();
    let inside: Vec<&Moment> = moments
        .iter()
        .filter(|m| off(m) <= 0.5 * width_rpm)
        .collect();
    let nearest = || moments.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
    let taken = if inside.is_empty() {
        vec![nearest()?]
    } else {
        inside
    };
    let mean =
        |of: fn(&Moment) -> f64| taken.iter().map(|m| of(m)).sum::<f64>() / taken.len() as f64;
    Some(InBand {
        log_power: mean(|m| m.power_w).max(1.0).ln(),
        log_flare: mean(|m| m.flare).ln(),
        engine_rpm: mean(|m| m.rpm),
    })
}

/// How fast engine speed climbs in a pull at an engine speed, rpm/s; at its ends from inside.
pub(super) fn climb_rpm_s(pull: &Pull, rpm: f64) -> f64 {
    const HALF: f64 = 25.0;
    let (first, last) = (pull.points[0].rpm, pull.points[pull.points.len() - 1].rpm);
    let low = (rpm - HALF).clamp(first, last - HALF);
    let high = (rpm + HALF).clamp(first + HALF, last);
    let time_s = |rpm: f64| pull.reading(rpm, |p| p.time_s);
    (high - low) / (time_s(high) - time_s(low)).max(1e-6)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::Day;
    use crate::air::atmosphere::StationPressure;
    use crate::dyno::Conditions;

    #[test]
    fn a_clutch_that_holds_changes_nothing_and_a_weak_one_flares_and_ends_at_the_limiter() {
        let setup = Setup::example();
        let air = StationPressure::from_pa(99_000.0);
        let day = Day::from_vapour(air, 295.0, 800.0).expect("a day");
        let sound = setup
            .pull(&day, &Conditions::rested(6500.0), 30)
            .expect("a pull");
        let held = slipping(&setup, &sound, (7000.0, 0.8), 6500.0);
        assert!(held.iter().all(|m| (m.flare - 1.0).abs() < 1e-12));
        let weak = slipping(&setup, &sound, (3500.0, 0.8), 6500.0);
        let most = weak.iter().map(|m| m.flare).fold(0.0, f64::max);
        assert!(most > 1.1, "{most}");
        assert!(
            weak.iter()
                .all(|m| m.rpm <= 6500.0 + 1e-9 && m.power_w.is_finite())
        );
        // While it slips the drum gets the kinetic torque alone: less power than the sound pull at the same drum speed.
        let slipped = weak.iter().filter(|m| m.flare > 1.02);
        for m in slipped {
            assert!(m.power_w < sound.reading(m.rpm / m.flare, |p| p.power_w));
        }
    }
}
