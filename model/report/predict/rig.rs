//! The rig of a predicted pull in a line: only what sets it apart from a plain inertia drum under one axle.
//!
//! A braked or hub-coupled reading must not be laid beside one of an inertia drum without being told apart. It refuses to name
//! makes.

use crate::dyno::{Brake, Contact, Coupling, Drums, Pull};

/// What the rig is; none for a plain inertia drum under one axle.
pub(super) fn words(drums: &Drums, pull: &Pull) -> Option<String> {
    let mut said = Vec::new();
    match drums.coupling {
        Coupling::Single => {}
        Coupling::Linked => said.push("both axles on linked drums".to_owned()),
        Coupling::Separate { .. } => said.push("each axle on its own drum".to_owned()),
    }
    if drums.machine.contact == Contact::Hubs {
        said.push("bolted to the hubs, no tyre between".to_owned());
    }
    if let Some(geared) = drums.machine.geared {
        said.push(format!(
            "more inertia behind a gear of {:.2}, {:.0} kg m² at the drum in all",
            geared.ratio,
            drums.inertia_at_drum_kg_m2()
        ));
    }
    if let Some(brake) = drums.machine.brake {
        let ramp = match brake {
            Brake::EngineRamp { rpm_per_s } => {
                format!("a brake lets engine speed climb by {rpm_per_s:.0} rpm in a second")
            }
            Brake::SurfaceRamp { m_s2 } => {
                format!(
                    "a brake lets the surface gather {:.1} km/h in a second",
                    3.6 * m_s2
                )
            }
            Brake::Sweep { seconds } => {
                format!("a brake spreads the pull evenly over {seconds:.1} s")
            }
        };
        let idle: Vec<f64> = pull
            .points
            .iter()
            .filter(|p| p.brake_n <= 0.0)
            .map(|p| p.rpm)
            .collect();
        let follows = match (idle.first(), idle.len() == pull.points.len()) {
            (None, _) => "",
            (_, true) => "; the car never climbs that fast, so it is an inertia pull",
            (Some(_), false) => "; not everywhere does the car climb that fast",
        };
        said.push(format!("{ramp}{follows}"));
        said.push(
            "a slow climb hides less in the car's turning parts and reads higher than an inertia pull".to_owned(),
        );
    }
    (!said.is_empty()).then(|| said.join("; "))
}
