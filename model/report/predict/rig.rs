//! The rig of a predicted pull in a line. It refuses to name makes.

use crate::ask::predict::{BrakeLaw, BrakeWork, Coupled, Holds, Rig};

/// What the rig is.
pub(super) fn words(rig: &Rig) -> String {
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
            "more inertia behind a gear of {ratio:.2}, {inertia:.0} kg m² at the drum in all"
        ));
    }
    if let Some(brake) = rig.brake {
        said.push(braked(brake));
        said.push(
            "a slow climb hides less in the car's turning parts and reads higher than an inertia pull".to_owned(),
        );
    }
    said.join("; ")
}

fn braked(brake: BrakeWork) -> String {
    let ramp = match brake.law {
        BrakeLaw::EngineRamp { rpm_per_s } => {
            format!("a brake lets engine speed climb by {rpm_per_s:.0} rpm in a second")
        }
        BrakeLaw::SurfaceRamp { m_s2 } => {
            format!(
                "a brake lets the surface gather {:.1} km/h in a second",
                3.6 * m_s2
            )
        }
        BrakeLaw::Sweep { seconds } => {
            format!("a brake spreads the pull evenly over {seconds:.1} s")
        }
    };
    let follows = match brake.holds {
        Holds::Everywhere => "",
        Holds::Nowhere => "; the car never climbs that fast, so it is an inertia pull",
        Holds::InPart => "; not everywhere does the car climb that fast",
    };
    format!("{ramp}{follows}")
}
