//! The rig of a predicted pull in a line. It refuses to name makes.

use crate::ask::predict::{BrakeLaw, BrakeWork, Coupled, Holds, Rig};
use crate::report::number::{Units, What};

/// What the rig is.
pub(super) fn words(rig: &Rig, units: Units) -> String {
    let mut said = Vec::new();
    match rig.coupling {
        Coupled::Single => {}
        Coupled::Linked => said.push("both axles on linked drums".to_owned()),
        Coupled::Separate => said.push("each axle on its own drum".to_owned()),
    }
    if rig.hubs {
        said.push("bolted to the hubs, no tyre between".to_owned());
    }
    if let Some((ratio, inertia)) = rig.gear_ratio.zip(rig.inertia_at_drum_kg_m2) {
        said.push(format!(
            "more inertia behind a gear of {ratio:.2}, {:.0} {} at the drum in all",
            units.convert(What::Inertia, inertia),
            units.symbol(What::Inertia)
        ));
    }
    if let Some(brake) = rig.brake {
        said.push(braked(brake, units));
        said.push(
            "a slow sweep puts less into the car's rotating parts and reads higher than an inertia pull".to_owned(),
        );
    }
    said.join("; ")
}

fn braked(brake: BrakeWork, units: Units) -> String {
    let ramp = match brake.law {
        BrakeLaw::EngineRamp { rpm_per_s } => {
            format!("a brake lets engine speed climb by {rpm_per_s:.0} rpm in a second")
        }
        BrakeLaw::SurfaceRamp { m_s2 } => {
            format!(
                "a brake lets the surface gather {:.1} {} in a second",
                units.convert(What::Speed, m_s2),
                units.symbol(What::Speed)
            )
        }
        BrakeLaw::Sweep { seconds } => {
            format!("a brake spreads the pull evenly over {seconds:.1} s")
        }
    };
    let follows = match brake.holds {
        Holds::Everywhere => "",
        Holds::Nowhere => "; the car never climbs that fast, so it is an inertia pull",
        Holds::InPart => "; in places the car does not climb that fast",
    };
    format!("{ramp}{follows}")
}
