//! A Roots or screw blower on a belt.

use super::blower::{PULLEY_DIAMETER, ROTORS};
use super::kind::{Blown, Kind, Part, Rank, Role, Work, Written};
use super::numbers::numbers;
use super::row::LeftOut::{MustBeGiven, Described};
use super::row::{self, CLAIM_DOUBT, Holds, Row, SIZE_DOUBT, rows, words};
use super::{BuildError, Form, exactly, usual};
use crate::belief::parameter::Basis::{CommonPractice, Fact};
use crate::belief::parameter::Measure;
use crate::belief::prior::Prior;
use crate::boost::displacement::{PORT_LOSS, reference_speed_rad_s};
use crate::boost::{BeltDrive, MakerClaims, PositiveDisplacement, RotorKind};
use crate::car::{Blower, Car};

numbers! {
    /// A Roots or screw blower as its maker describes it, in place of whatever blower is there.
    DisplacementBlower {
        /// Family of rotors, for what the maker does not say.
        kind: RotorKind => kept,
        /// Volume carried per turn of the driven shaft, m³.
        displacement_m3_rev: T => number("displacement"),
        /// Driven shaft over engine speed.
        drive_ratio: T => number("drive_ratio"),
        /// Built-in volume ratio; 1 for a Roots machine.
        built_in_volume_ratio: T => number("built_in_volume_ratio"),
        /// Volumetric efficiency the maker claims.
        volumetric_efficiency: T => number("volumetric_efficiency"),
        /// Isentropic efficiency the maker claims.
        isentropic_efficiency: T => number("isentropic_efficiency"),
        /// Share of the pressure lost in each port at the reference rim speed.
        port_loss: T => number("port_loss"),
        /// Pressure ratio of those claims.
        claim_pressure_ratio: f64 => kept,
        /// Shaft speed of those claims, rad/s.
        claim_speed_rad_s: f64 => kept,
        /// Highest shaft speed the maker allows, rad/s.
        max_speed_rad_s: f64 => kept,
        /// Diameter of the pulley on the blower, m.
        pulley_m: T => number("pulley_diameter"),
    }
}

pub(super) const DRIVE_RATIO: Row = row::number(
    "drive_ratio",
    Measure::RATIO,
    (0.3, 10.0),
    SIZE_DOUBT,
    MustBeGiven,
    "blower shaft over engine speed",
    CommonPractice,
);

rows! {
    ROTOR_KIND = row::other("rotors", words!(ROTORS), MustBeGiven, "family of rotors"),
    DISPLACEMENT = row::of_car("displacement", "blower.displacement", SIZE_DOUBT, MustBeGiven, CommonPractice),
    RATIO = DRIVE_RATIO,
    BUILT_IN = row::of_car("built_in_volume_ratio", "blower.built_in_volume_ratio", 0.0,
        Described("1 without internal compression, 1.3 for a screw"), CommonPractice),
    MAX_SPEED = row::plain("max_speed", Measure::RAD_S, (300.0, 30_000.0),
        Described("12 000, 14 000, 20 000 or 24 000 rpm in the order of the rotors"), "highest shaft speed the maker allows", CommonPractice),
    PULLEY = PULLEY_DIAMETER,
    CLAIMS = row::other("claims", Holds::Table(CLAIM_ROWS),
        Described("filling 92 ± 3 % and the usual isentropic efficiency of the rotors, at pressure ratio 1.5 and 9000 rpm times the cube root of 2 L over its displacement"),
        "what the maker prints"),
}

const PRESSURE_RATIO: Row = row::plain(
    "pressure_ratio",
    Measure::RATIO,
    (1.01, 5.0),
    MustBeGiven,
    "pressure ratio of the printed point",
    Fact,
);
const SHAFT_SPEED: Row = row::plain(
    "shaft_speed",
    Measure::RAD_S,
    (50.0, 10_000.0),
    MustBeGiven,
    "its shaft speed",
    Fact,
);
const VOLUMETRIC: Row = row::number(
    "volumetric_efficiency",
    Measure::RATIO,
    (0.3, 0.995),
    CLAIM_DOUBT,
    MustBeGiven,
    "its volumetric efficiency",
    CommonPractice,
);
const ISENTROPIC: Row = row::number(
    "isentropic_efficiency",
    Measure::RATIO,
    (0.2, 0.95),
    CLAIM_DOUBT,
    MustBeGiven,
    "its isentropic efficiency",
    CommonPractice,
);
/// What a maker prints of one point.
const CLAIM_ROWS: &[Row] = &[PRESSURE_RATIO, SHAFT_SPEED, VOLUMETRIC, ISENTROPIC];

impl<T> Part for DisplacementBlower<T> {
    const KIND: &'static Kind = &Kind {
        rank: Rank::Blower,
        role: Role::Blower(Blown::ByBelt),
        ..Kind::new(
            "displacement blower",
            "displacement_blower",
            "new blower",
            ROWS,
        )
        .adds_up()
    };
}

/// A maker's point as it is printed.
struct Claims {
    pressure_ratio: f64,
    speed_rad_s: f64,
    volumetric: Prior,
    isentropic: Prior,
}

impl Claims {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let pressure_ratio = form.required_plain(&PRESSURE_RATIO);
        let speed_rad_s = form.required_plain(&SHAFT_SPEED);
        let volumetric = form.number(&VOLUMETRIC);
        let isentropic = form.number(&ISENTROPIC);
        Some(Self {
            pressure_ratio: pressure_ratio?,
            speed_rad_s: speed_rad_s?,
            volumetric: volumetric?,
            isentropic: isentropic?,
        })
    }

    /// Where the maker claims nothing: the point at which [`PositiveDisplacement::typical`] is set.
    fn usual(kind: RotorKind, displacement_m3_rev: f64) -> Option<Self> {
        let (mean, sd) = kind.peak_adiabatic_efficiency();
        Some(Self {
            pressure_ratio: 1.5,
            speed_rad_s: 0.5 * reference_speed_rad_s(displacement_m3_rev),
            volumetric: usual(0.92, 0.03, VOLUMETRIC.bounds().0, VOLUMETRIC.bounds().1)?,
            isentropic: usual(mean, sd, ISENTROPIC.bounds().0, ISENTROPIC.bounds().1)?,
        })
    }
}

impl Written for DisplacementBlower<Prior> {
    fn read(form: &mut dyn Form) -> Option<Self> {
        let kind: Option<RotorKind> = form.word(&ROTOR_KIND, ROTORS, true);
        let displacement = form.number(&DISPLACEMENT);
        let drive_ratio = form.number(&DRIVE_RATIO);
        let built_in = form.number(&BUILT_IN);
        let max_speed = form.plain(&MAX_SPEED);
        let pulley_m = form.number(&PULLEY_DIAMETER);
        let claimed = form.has("claims");
        let mut claims = None;
        form.within("claims", &mut |form| claims = Claims::read(form));
        let kind = kind?;
        let max_speed_rad_s = max_speed.unwrap_or_else(|| kind.top_speed_rad_s());
        if !claimed {
            claims = Claims::usual(kind, displacement?.centre());
        }
        let claims = claims?;
        let built_in = built_in.or_else(|| exactly(kind.built_in_volume_ratio()));
        Some(Self {
            kind,
            displacement_m3_rev: displacement?,
            drive_ratio: drive_ratio?,
            built_in_volume_ratio: built_in?,
            volumetric_efficiency: claims.volumetric,
            isentropic_efficiency: claims.isentropic,
            port_loss: usual(PORT_LOSS.0, PORT_LOSS.1, 0.0, 0.2)?,
            claim_pressure_ratio: claims.pressure_ratio,
            claim_speed_rad_s: claims.speed_rad_s,
            max_speed_rad_s,
            pulley_m: pulley_m?,
        })
    }
}

impl Work for DisplacementBlower<f64> {
    fn apply(&self, car: &mut Car) -> Result<(), BuildError> {
        let mut machine = PositiveDisplacement::typical(
            self.kind,
            self.displacement_m3_rev,
            self.max_speed_rad_s,
        );
        machine.built_in_volume_ratio = self.built_in_volume_ratio;
        machine.port_loss = self.port_loss;
        let machine = machine.calibrated(MakerClaims {
            pressure_ratio: self.claim_pressure_ratio,
            speed_rad_s: self.claim_speed_rad_s,
            volumetric_efficiency: self.volumetric_efficiency,
            isentropic_efficiency: self.isentropic_efficiency,
        })?;
        car.blower = Blower::Displacement {
            machine,
            drive: BeltDrive::of_overall_ratio(self.drive_ratio, self.pulley_m),
        };
        Ok(())
    }
}
