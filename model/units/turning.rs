//! Engine speed between the rpm it is told in and the rad/s physics needs; written once, so that no two places differ in a last digit.

use std::f64::consts::{PI, TAU};

/// One rpm, rad/s.
pub const RAD_S_PER_RPM: f64 = PI / 30.0;
/// One rad/s, rpm.
pub const RPM_PER_RAD_S: f64 = 30.0 / PI;

/// Angular speed of an engine speed, rad/s.
pub const fn rad_s(rpm: f64) -> f64 {
    rpm * TAU / 60.0
}

/// Engine speed of an angular speed, rpm.
pub const fn rpm(rad_s: f64) -> f64 {
    rad_s * 60.0 / TAU
}

/// Time in which a crank turns by one radian, s.
pub const fn seconds_per_rad(rpm: f64) -> f64 {
    30.0 / (PI * rpm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_in_a_second_is_sixty_in_a_minute() {
        // A product and a quotient round once each.
        assert!((rad_s(60.0) / TAU - 1.0).abs() <= 2.0 * f64::EPSILON);
        assert!((rpm(TAU) / 60.0 - 1.0).abs() <= 2.0 * f64::EPSILON);
        assert!((seconds_per_rad(60.0) * TAU - 1.0).abs() < 1e-15);
        assert!((rad_s(6500.0) * RPM_PER_RAD_S - 6500.0).abs() < 1e-9);
        assert!((RAD_S_PER_RPM * RPM_PER_RAD_S - 1.0).abs() < 1e-15);
    }
}
