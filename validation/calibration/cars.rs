//! Cars of every kind made up at random, and the work planned for each: files as a shop would write them, read as the program reads them.

use pullcast::belief::Prior;
use pullcast::belief::sheet::Sheet;
use pullcast::files::{TomlFile, car, plan};
use pullcast::parts::Plan;
use rand::{Rng, RngExt};
use std::path::Path;

/// Kinds of car that differ in what feeds the engine and in what drives the wheels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Natural,
    DisplacementBlower,
    CentrifugalBlower,
    Turbocharger,
    ElectricAxle,
}

impl Kind {
    pub(crate) const ALL: [Self; 5] = [
        Self::Natural,
        Self::DisplacementBlower,
        Self::CentrifugalBlower,
        Self::Turbocharger,
        Self::ElectricAxle,
    ];

    pub(crate) const fn words(self) -> &'static str {
        match self {
            Self::Natural => "natural",
            Self::DisplacementBlower => "displacement blower",
            Self::CentrifugalBlower => "centrifugal blower",
            Self::Turbocharger => "turbocharger",
            Self::ElectricAxle => "natural, electric axle",
        }
    }
}

/// A made-up car and the work planned for it.
pub(crate) struct Made {
    pub(crate) sheet: Sheet,
    pub(crate) plan: Plan<Prior>,
}

/// A car of a kind; its facts differ from draw to draw.
pub(crate) fn made<R: Rng + ?Sized>(kind: Kind, rng: &mut R) -> Made {
    let cylinders = [4, 4, 6, 8][rng.random_range(0..4)];
    let mut between = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
    let bore_m = between(0.074, 0.094);
    let stroke_m = bore_m * between(0.88, 1.12);
    let redline_rpm = 100.0 * (between(5800.0, 7200.0) / 100.0).round();
    let litres =
        1e3 * f64::from(cylinders) * std::f64::consts::FRAC_PI_4 * bore_m.powi(2) * stroke_m;
    let boosted = matches!(
        kind,
        Kind::DisplacementBlower | Kind::CentrifugalBlower | Kind::Turbocharger
    );
    let ratio = if boosted {
        between(8.8, 10.0)
    } else {
        between(9.8, 11.5)
    };
    let (octane, inertia) = (
        95.0 + 3.0 * between(0.0, 1.99).floor(),
        between(90.0, 260.0),
    );
    let mut text = format!(
        "kind = \"car\"\nversion = 1\nname = \"made up\"\n[engine]\ncylinders = {cylinders}\nbore = \"{bore_m:.4} m\"\n\
         stroke = \"{stroke_m:.4} m\"\ncompression_ratio = {ratio:.2}\nredline = \"{redline_rpm} rpm\"\n[fuel]\nkind = \"petrol\"\n\
         research_octane = {octane}\n[driveline]\ngear = {:.3}\nfinal_drive = {:.3}\n[wheels]\ntyre_radius = \"{:.3} m\"\n\
         [drums]\ninertia = \"{inertia:.1} kg m2\"\nradius = \"0.40 m\"\n",
        between(1.0, 1.5),
        between(3.2, 4.1),
        between(0.29, 0.34),
    );
    // Air at the redline of an engine that fills, for a machine that suits it.
    let air_g_s = litres / 2.0 * redline_rpm / 60.0 * 1.18;
    let boost_pa = between(35e3, 75e3);
    let pressure_ratio = 1.0 + 1.15 * boost_pa / 1e5;
    let flow_g_s = air_g_s * (1.0 + boost_pa / 1e5);
    // Wheels of 50 mm pass some 150 g/s; the work a wheel does is some 0.75 of its rim speed squared.
    let wheel_m = 0.05 * (flow_g_s / 150.0).sqrt();
    let work_j_kg = 1005.0 * 298.0 * (pressure_ratio.powf(0.286) - 1.0) / 0.72;
    let rim_m_s = (work_j_kg / between(0.68, 0.82)).sqrt();
    let shaft_rpm = 60.0 * rim_m_s / (std::f64::consts::PI * wheel_m);
    let rated = format!(
        "[blower.rated_point]\npressure_ratio = {pressure_ratio:.3}\nflow = \"{flow_g_s:.1} g/s\"\nefficiency = 0.72\n\
         speed = \"{shaft_rpm:.0} rpm\"\nwheel_diameter = \"{:.1} mm\"\nreference_pressure = \"100 kPa\"\nreference_temperature = \"25 °C\"\n",
        1e3 * wheel_m,
    );
    let cooler = format!(
        "[cooler]\nkind = \"air to air\"\neffectiveness = \"0.70 ± 0.05\"\nreference_flow = \"{flow_g_s:.0} g/s\"\n"
    );
    let (feed, work) = match kind {
        Kind::Natural => (
            String::new(),
            "kind = \"exhaust\"\nback_pressure_factor = 0.6\n[[change]]\nkind = \"intake\"\narea_factor = 1.2\n",
        ),
        Kind::DisplacementBlower => (
            format!(
                "[blower]\nkind = \"screw\"\ndisplacement = \"{:.3} L/rev\"\ndrive_ratio = {:.3}\n{cooler}",
                0.32 * litres,
                (1.0 + boost_pa / 1e5) * 1.55,
            ),
            "kind = \"pulley\"\nratio_factor = 1.06\n",
        ),
        Kind::CentrifugalBlower => (
            format!(
                "[blower]\nkind = \"centrifugal\"\ndrive_ratio = {:.3}\n{rated}{cooler}",
                shaft_rpm / redline_rpm
            ),
            "kind = \"pulley\"\nratio_factor = 1.04\n",
        ),
        Kind::Turbocharger => (
            format!(
                "[blower]\nkind = \"turbocharger\"\nboost = \"{:.1} kPa gauge\"\n{rated}{cooler}",
                boost_pa / 1e3
            ),
            "kind = \"boost\"\nboost_factor = 1.1\n",
        ),
        Kind::ElectricAxle => (
            "[electric_axle]\npeak_power = \"70 kW\"\npeak_torque = \"180 N m\"\nreduction = 9.5\n"
                .to_owned(),
            "kind = \"exhaust\"\nback_pressure_factor = 0.6\n",
        ),
    };
    if kind == Kind::ElectricAxle {
        text = text.replace("[drums]\n", "[drums]\ncoupling = \"linked\"\n");
        text = text.replace("[driveline]\n", "[driveline]\ndrive = \"rear\"\n");
    }
    text.push_str(&feed);
    let work = format!("kind = \"plan\"\nversion = 1\nname = \"work\"\n[[change]]\n{work}");
    let file = |name: &str, text: &str| {
        TomlFile::parse(name, text).unwrap_or_else(|problems| panic!("{problems}\n{text}"))
    };
    let (car, _) = car::read(&file("car.toml", &text), Path::new(""))
        .unwrap_or_else(|problems| panic!("{problems}\n{text}"));
    let (plan, _) = plan::read(&file("plan.toml", &work), Path::new(""))
        .unwrap_or_else(|problems| panic!("{problems}\n{work}"));
    Made {
        sheet: car.sheet,
        plan: plan.plan,
    }
}
