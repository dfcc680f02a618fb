//! What stands between the crank, or the motor, and the drum: gears, turning parts and tyres.

use crate::driveline::clutch::held_nm;
use crate::driveline::{GearOil, GearTrain, TorqueConverter, TurningParts, TyreOnDrum};
use crate::electric::axle::ElectricAxle;
use crate::numeric::Real;

/// Driveline of the axle (or axles) the engine turns.
#[derive(Debug, Clone, PartialEq)]
pub struct Driveline {
    /// Gearbox first, final drive last.
    pub train: GearTrain,
    /// Torque that the clutch, or the lock-up clutch of an automatic, passes before it slips, N m; none where not known.
    pub clutch_nm: Option<f64>,
    /// The converter; none behind a clutch, and where it is locked and not known.
    pub converter: Option<TorqueConverter>,
    /// Gear oil. Drags are stated with [`GearOil::SAE_75W90`].
    pub oil: GearOil,
    /// Gear-oil temperature, K.
    pub oil_k: f64,
    /// Turning parts.
    pub parts: TurningParts,
    /// The driven tyres together; the drum's radius is filled in by the rig.
    pub tyre: TyreOnDrum,
    /// Tyre temperature, K.
    pub tyre_k: f64,
}

impl Driveline {
    /// Ratio of the gear used on the drums.
    pub fn gear_ratio(&self) -> f64 {
        self.train.stages.first().map_or(1.0, |s| s.ratio)
    }

    /// Final-drive ratio.
    pub fn final_ratio(&self) -> f64 {
        self.train.stages.iter().skip(1).map(|s| s.ratio).product()
    }

    /// Factor of the oil and its temperature on gear drag.
    pub fn oil_factor(&self) -> f64 {
        self.oil.spin_factor_against(self.oil_k, GearOil::SAE_75W90)
    }

    /// The converter, if it is open.
    pub fn open_converter(&self) -> Option<TorqueConverter> {
        self.converter.filter(|converter| !converter.locked)
    }

    /// Torque that everything at the crank takes to gather speed with the wheels, N m, neither clutch nor converter slipping.
    #[inline(always)]
    pub(crate) fn spinning_up_nm<R: Real>(&self, wheel_rad_s2: R) -> R {
        wheel_rad_s2 * (self.parts.at_crank_kg_m2() * self.train.ratio())
    }

    /// Whether nothing slips between crank and gearbox while the crank gathers speed.
    pub(crate) fn holds(&self, engine_nm: f64, engine_rad_s2: f64) -> bool {
        let into_nm = engine_nm - self.parts.ahead_of_clutch_kg_m2() * engine_rad_s2;
        self.open_converter().is_none()
            && self
                .clutch_nm
                .is_none_or(|capacity_nm| !held_nm(into_nm, capacity_nm).1)
    }

    /// What clutch or converter hand to the gearbox while the wheels gather speed.
    ///
    /// A clutch past its capacity passes its capacity; its slip is not followed, so the speeds stay the gear's and the reading
    /// is the most it could be. An open converter slips as its torque says; engine and gearbox then gather speed at different
    /// rates.
    /// Equations (6.13) and (6.14).
    pub fn coupled(&self, engine_nm: f64, engine_rad_s: f64, wheel_rad_s2: f64) -> Coupled {
        let (parts, ratio) = (&self.parts, self.train.ratio());
        let shaft_rad_s2 = wheel_rad_s2 * ratio;
        if let Some(converter) = self.open_converter() {
            let mut engine_rad_s2 = shaft_rad_s2;
            let mut point = converter.at(engine_nm, engine_rad_s);
            // The engine's own inertia takes some per cent of its torque: each pass shrinks the error about tenfold.
            for _ in 0..CONVERTER_PASSES {
                let into_nm = engine_nm - parts.ahead_of_clutch_kg_m2() * engine_rad_s2;
                point = converter.at(into_nm, engine_rad_s);
                engine_rad_s2 = shaft_rad_s2 / point.follow;
            }
            if point.overrun {
                // What it cannot take makes the engine flare.
                let flare = (engine_nm - point.input_nm) / parts.ahead_of_clutch_kg_m2();
                engine_rad_s2 = if flare.is_finite() {
                    flare
                } else {
                    engine_rad_s2
                };
            }
            return Coupled {
                gearbox_nm: point.torque_nm - parts.gearbox_input_kg_m2 * shaft_rad_s2,
                spinning_up_nm: parts.ahead_of_clutch_kg_m2() * engine_rad_s2,
                speed_ratio: point.speed_ratio,
                engine_rad_s2,
                clutch_slips: false,
                converter_overrun: point.overrun,
            };
        }
        let spinning_up_nm = self.spinning_up_nm(wheel_rad_s2);
        let rigid = Coupled {
            gearbox_nm: engine_nm - spinning_up_nm,
            spinning_up_nm,
            speed_ratio: 1.0,
            engine_rad_s2: shaft_rad_s2,
            clutch_slips: false,
            converter_overrun: false,
        };
        let Some(capacity_nm) = self.clutch_nm else {
            return rigid;
        };
        let into_nm = engine_nm - parts.ahead_of_clutch_kg_m2() * shaft_rad_s2;
        let (passed_nm, clutch_slips) = held_nm(into_nm, capacity_nm);
        if !clutch_slips {
            return rigid;
        }
        Coupled {
            gearbox_nm: passed_nm - parts.gearbox_input_kg_m2 * shaft_rad_s2,
            clutch_slips,
            ..rigid
        }
    }
}

/// Passes on the acceleration of an engine behind an open converter.
const CONVERTER_PASSES: usize = 8;

/// What reaches the gearbox, and how the engine turns against it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupled {
    /// Torque at the gearbox's input after its own inertia, N m.
    pub gearbox_nm: f64,
    /// Torque that the parts at the crank took to gather speed, N m.
    pub spinning_up_nm: f64,
    /// Speed of the gearbox's input over the engine's; 1 but for an open converter.
    pub speed_ratio: f64,
    /// Acceleration of the crank, rad/s².
    pub engine_rad_s2: f64,
    /// Whether the clutch slips.
    pub clutch_slips: bool,
    /// Whether the converter cannot hold the engine at its speed.
    pub converter_overrun: bool,
}

/// The electric axle with its own wheels.
#[derive(Debug, Clone, PartialEq)]
pub struct ElectricDrive {
    /// Motor, reduction and battery.
    pub axle: ElectricAxle,
    /// Its tyres together; the drum's radius is filled in by the rig.
    pub tyre: TyreOnDrum,
    /// Wheels, tyres, discs and the rotor referred to the wheels, kg m².
    pub inertia_kg_m2: f64,
}
