//! Starter files: a car, plan, visit, weather and drum-log file to fill in: [`short`], or every key with its unit, default, range and meaning.
//!
//! The car's is made from the catalogue, so that it cannot fall behind it. Lines of facts hold an example; optional keys
//! stand as `#key = default`, text as `# text`, so that taking the first character off a key's line makes it count.

mod shop_units;
mod short;

pub use shop_units::{Converted, of_the_trade};
pub use short::{WrittenIn, short};

use std::fmt::Write as _;
use std::path::Path;
use std::sync::LazyLock;

use super::car;
use super::car_write::{belief_text, number};
use super::schema::FileKind;
use super::table::TomlFile;
use crate::belief::parameter::{self, Parameter};
use crate::dyno::Setup;

/// Example values of what must be given.
const EXAMPLES: &[(&str, &str)] = &[
    ("engine.bore", "\"86 mm\""),
    ("engine.stroke", "\"86 mm\""),
    ("engine.compression_ratio", "10.5"),
    ("engine.redline", "\"7000 rpm\""),
    ("fuel.research_octane", "95"),
    ("fuel.motor_octane", "85"),
    ("blower.displacement", "\"0.65 L/rev\""),
    ("driveline.gear", "1.36"),
    ("driveline.final_drive", "3.9"),
    ("wheels.tyre_radius", "\"0.31 m\""),
    ("electric_axle.peak_power", "\"80 kW\""),
    ("electric_axle.peak_torque", "\"200 N m\""),
    ("electric_axle.reduction", "9.5"),
    ("drums.inertia", "\"240 kg m2\""),
    ("drums.radius", "\"0.35 m\""),
    ("drums.second_inertia", "\"240 kg m2\""),
    ("drums.geared_inertia", "\"2 kg m2\""),
    ("drums.geared_ratio", "4.0"),
    ("injectors.flow", "\"440 cm3/min\""),
    ("fuel_pump.flow", "\"190 L/h\""),
    ("clutch.capacity", "\"380 N m\""),
    ("converter.stall_speed", "\"2300 rpm\""),
    ("converter.stall_torque", "\"250 N m\""),
];

/// Required facts that may also follow from another key, so they stand as optional.
const FOLLOW: [&str; 5] = [
    "fuel.motor_octane",
    "drums.second_inertia",
    "drums.geared_inertia",
    "drums.geared_ratio",
    "blower.displacement",
];

/// One table of the starter car.
struct Section {
    name: &'static str,
    /// Whether the table is there from the start.
    live: bool,
    /// Text above the table, and lines below its name.
    about: &'static str,
    structure: &'static str,
}

const SECTIONS: &[Section] = &[
    Section {
        name: "engine",
        live: true,
        about: "The engine. Where bore and stroke are not known, displacement alone will do, at the price of more doubt.",
        structure: "cylinders = 4\n# Inlet valves per cylinder, 1 to 3. Default 2.\n#inlet_valves = 2\n\
            # \"injection\" or \"carburettor\". Default injection.\n#fuelling = \"carburettor\"\n\
            # Displacement of all cylinders, instead of bore and stroke or to check them (within 2 %).\n#displacement = \"2.0 L\"\n",
    },
    Section {
        name: "breathing",
        live: false,
        about: "How the cylinders fill at full load.",
        structure: "",
    },
    Section {
        name: "combustion",
        live: false,
        about: "How the charge turns into work, and where it knocks.",
        structure: "",
    },
    Section {
        name: "friction",
        live: false,
        about: "Friction, pumping and accessories.",
        structure: "",
    },
    Section {
        name: "tune",
        live: false,
        about: "What the engine controller is told at full load.",
        structure: "",
    },
    Section {
        name: "fuel",
        live: true,
        about: "What is in the tank. Motor octane follows from the research octane, with more doubt, where it is not given.",
        structure: "# \"petrol\", \"petrol with ethanol\" (with ethanol = \"10 %\" by volume, measured), \"ethanol\", \"methanol\".\n\
            kind = \"petrol\"\n",
    },
    Section {
        name: "intake",
        live: false,
        about: "Filter, ducts and throttle.",
        structure: "",
    },
    Section {
        name: "exhaust",
        live: false,
        about: "Manifolds, catalysts and silencers.",
        structure: "",
    },
    Section {
        name: "blower",
        live: false,
        about: "The blower, if the car has one: take the '#' off these lines.",
        structure: "# \"none\", \"roots\", \"twisted lobe\", \"high helix\", \"screw\", \"centrifugal\" or \"turbocharger\".\n#kind = \"screw\"\n\
            # Blower shaft (or wheel) turns per crank turn.\n#drive_ratio = 2.0\n\
            # Pulley on the blower. Default 80 mm, common practice, no source.\n#pulley_diameter = \"80 mm\"\n\
            # Highest shaft speed. Default 12 000, 14 000, 20 000 or 24 000 rpm in the order of the kinds above, common practice, no source.\n\
            #max_speed = \"24000 rpm\"\n\
            # A maker's printed point goes into a table [blower.claims]: pressure_ratio, shaft_speed, volumetric_efficiency,\n\
            # isentropic_efficiency; 3 % of doubt unless stated. A centrifugal blower needs map = \"file.csv\", or a table\n\
            # [blower.rated_point]: pressure_ratio, flow, efficiency, speed, wheel_diameter, reference_pressure,\n\
            # reference_temperature. A turbocharger needs the same and boost = \"60 kPa gauge\", and no drive_ratio;\n\
            # its turbine may have a map too: turbine_map = \"file.csv\", in place of turbine_area and turbine_efficiency.\n",
    },
    Section {
        name: "cooler",
        live: false,
        about: "The charge cooler, if the car has one.",
        structure: "# \"air to air\" or \"air to water\".\n#kind = \"air to water\"\n",
    },
    Section {
        name: "driveline",
        live: true,
        about: "From clutch to axle.",
        structure: "# \"rear\" (default), \"front\" or \"all\".\ndrive = \"rear\"\n# \"manual\" (default) or \"automatic\".\ngearbox = \"manual\"\n\
            # Gear oil: \"75W-80\", \"75W-85\", \"75W-90\" (default), \"75W-140\", \"80W-90\", \"85W-140\" or \"ATF\".\n#oil = \"75W-90\"\n",
    },
    Section {
        name: "wheels",
        live: true,
        about: "Wheels and tyres that the engine drives.",
        structure: "",
    },
    Section {
        name: "injectors",
        live: false,
        about: "The injectors, if they are known: then the fuel they cannot bring is seen. Port injection.",
        structure: "# How many. Default: one for each cylinder.\n#count = 4\n# The flow may be written by mass: \"330 g/min\".\n",
    },
    Section {
        name: "fuel_pump",
        live: false,
        about: "The fuel pump, if it is known.",
        structure: "",
    },
    Section {
        name: "fuel_rail",
        live: false,
        about: "The fuel rail, where injectors or pump are known.",
        structure: "# What its pressure is held above: \"manifold\" (default) or \"outside\" (a returnless rail: boost takes from it).\n#reference = \"manifold\"\n",
    },
    Section {
        name: "clutch",
        live: false,
        about: "The clutch, or an automatic's lock-up clutch, if it is known. Instead of its capacity: faces, friction, clamp, outer_radius, inner_radius.",
        structure: "",
    },
    Section {
        name: "converter",
        live: false,
        about: "The converter of an automatic that is open during the pull. Default: locked.",
        structure: "#locked = true\n",
    },
    Section {
        name: "limits",
        live: false,
        about: "Past these the reports say so, though nothing gives way in the model. Defaults are common practice, no source; a tyre's rating has none.",
        structure: "# Gas in the exhaust manifold, peak cylinder pressure, mean piston speed, speed of the driven tyres.\n\
            #exhaust_temperature = \"980 °C\"\n#peak_pressure = \"120 bar\"\n#piston_speed = \"25 m/s\"\n#tyre_speed = \"240 km/h\"\n",
    },
    Section {
        name: "electric_axle",
        live: false,
        about: "The electric axle, if the car has one.",
        structure: "# Defaults below are common practice, no source.\n#battery_voltage = \"350 V\"\n#battery_energy = \"8 kWh\"\n\
            # Power the battery management allows. Default 1.15 of the peak power.\n#battery_power = \"92 kW\"\n\
            #motor_top_speed = \"21000 rpm\"\n# Axle speed at which assistance has faded out, and the last part over which it fades. Default: never; 7 %.\n\
            #cut_speed = \"1200 rpm\"\n#cut_taper = 0.07\n# Time the torque takes to come in. Default 0 s.\n#ramp = \"0.4 s\"\n\
            # Rolling radius of its tyres. Default: as the other axle's.\n#tyre_radius = \"0.31 m\"\n",
    },
    Section {
        name: "drums",
        live: true,
        about: "The dynamometer's drums.",
        structure: "# \"single\" (default), \"linked\" (both axles at one speed; the inertia is that of both) or \"separate\".\ncoupling = \"single\"\n\
            # Whether the rig adds its own drag back to its reading. Default false.\n#drag_added_back = false\n\
            # \"tyres\" (default), or \"hubs\" for a rig bolted to them; the radius may then be left out.\n#contact = \"tyres\"\n\
            # A brake that leads the pull: engine speed gained in a second; or surface_ramp_per_second = \"5 km/h\"; or\n\
            # sweep_time = \"12 s\" from start to end. Left out: an inertia rig.\n#ramp_per_second = \"300 rpm\"\n",
    },
];

/// The starter of a kind of file with every key.
pub fn text(kind: FileKind, units: WrittenIn) -> String {
    let metric = match kind {
        FileKind::Car => car(),
        FileKind::Plan => plan(),
        FileKind::Visit => visit(),
        FileKind::Weather => weather(),
        FileKind::DrumLog => drum_log(),
        FileKind::Shop | FileKind::Class => return short(kind, units),
    };
    match units {
        WrittenIn::Metric => metric,
        WrittenIn::Shop => shop_units::in_shop_units(&metric),
    }
}

/// A starter named for an editor to check with the schema beside it.
pub fn with_schema(kind: FileKind, text: &str) -> String {
    format!("#:schema ./{}\n{text}", kind.schema_name())
}

/// A car file with the facts of an invented car.
pub fn car() -> String {
    let mut out = String::from(
        "# A car and the drums it stands on. Fill in the facts; everything else has a default.\n\
         # Keys that begin with '#' are optional and show the default for the facts below: take the '#' off to state your own.\n\
         # A doubt goes into the value: \"0.69 ± 0.03\" (also +-), \"0.62 .. 0.76\" (the middle 90 %), \"12 kW/K */ 1.3\".\n\
         kind = \"car\"\nversion = 1\nname = \"my car\"\n\n\
         # Mass of the car with driver; tyre loads follow from it.\n#[car]\n#mass = \"1400 kg\"\n",
    );
    let example = example();
    for section in SECTIONS {
        out.push_str(&format_section(section, example.as_ref()));
    }
    out
}

fn format_section(section: &Section, example: Option<&Setup>) -> String {
    let sign = if section.live { "" } else { "#" };
    let mut out = format!(
        "\n# {}\n{sign}[{}]\n{}",
        section.about, section.name, section.structure
    );
    for parameter in parameter::catalogue().filter(|p| p.table() == section.name) {
        let default = example.and_then(|setup| parameter.default_prior(setup)?.ok());
        let fact = EXAMPLES
            .iter()
            .find(|(path, _)| *path == parameter.path)
            .map(|(_, text)| *text);
        let must = section.live && fact.is_some() && !FOLLOW.contains(&parameter.path);
        let sign = if must { "" } else { "#" };
        let value = match (fact, default) {
            (Some(text), _) => text.to_owned(),
            (None, Some(prior)) => shown(&prior, parameter),
            (None, None) => continue,
        };
        out.push_str(&about(parameter));
        // Writing to a String cannot fail.
        let _ = writeln!(out, "{sign}{} = {value}", parameter.key());
    }
    out
}

/// The default of a number in the example car, as a person reads it; none where it must be given.
pub fn default_of(parameter: &Parameter) -> Option<String> {
    static EXAMPLE: LazyLock<Option<Setup>> = LazyLock::new(example);
    let prior = parameter.default_prior(EXAMPLE.as_ref()?)?.ok()?;
    Some(shown(&prior, parameter).trim_matches('"').to_owned())
}

/// A default with the digits a person reads.
fn shown(prior: &crate::belief::prior::Prior, parameter: &Parameter) -> String {
    use crate::belief::prior::{Prior, Shape};
    let measure = parameter.measure;
    let round = |written: f64| number(written, 4).parse().unwrap_or(written);
    let centre = measure.to_model(round(measure.from_model(prior.centre())));
    let (lower, upper) = (prior.lower(), prior.upper());
    let rounded = match prior.shape() {
        _ if prior.is_fixed() => Prior::fixed(centre),
        Shape::Normal => {
            let sd = measure.difference_to_model(round(measure.difference_from_model(prior.sd())));
            Prior::normal(centre, sd, lower, upper)
        }
        Shape::LogNormal => {
            // The factor is near one, so its digits count behind the one.
            let factor: f64 = number(prior.sd().exp(), 5)
                .parse()
                .unwrap_or(prior.sd().exp());
            Prior::log_normal(centre, factor.ln(), lower, upper)
        }
    };
    belief_text(&rounded.unwrap_or(*prior), measure)
}

/// Meaning, range and basis of an entry.
fn about(parameter: &Parameter) -> String {
    let (low, high) = parameter.range;
    let unit = parameter.measure.symbol;
    let space = if unit.is_empty() { "" } else { " " };
    format!(
        "# {}: {low} to {high}{space}{unit}. Basis: {}.\n",
        parameter.meaning, parameter.basis
    )
}

/// The setup whose defaults are shown: the example car with every part it could have.
fn example() -> Option<Setup> {
    let mut text = String::from("kind = \"car\"\nversion = 1\nname = \"example\"\n");
    for (table, structure) in [
        ("engine", "cylinders = 4"),
        ("fuel", ""),
        ("blower", "kind = \"screw\"\ndrive_ratio = 2.0"),
        ("cooler", "kind = \"air to water\""),
        ("driveline", ""),
        ("wheels", ""),
        ("electric_axle", ""),
        ("drums", "coupling = \"separate\""),
        ("injectors", ""),
        ("fuel_pump", ""),
        ("clutch", ""),
        ("converter", "locked = true"),
    ] {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "[{table}]\n{structure}");
        for (path, value) in EXAMPLES
            .iter()
            .filter(|(path, _)| path.split('.').next() == Some(table))
        {
            let key = path.rsplit('.').next().unwrap_or(path);
            let _ = writeln!(text, "{key} = {value}");
        }
    }
    let file = TomlFile::parse("example", &text).ok()?;
    car::read(&file, Path::new(""))
        .ok()
        .map(|(car, _)| car.sheet.centre)
}

/// A plan file with a moderate screw blower and a charge cooler, and every other kind as text.
pub fn plan() -> String {
    PLAN.to_owned()
}

/// A visit file of two pulls.
pub fn visit() -> String {
    VISIT.to_owned()
}

/// A weather file.
pub fn weather() -> String {
    WEATHER.to_owned()
}

/// The description of a drum log.
pub fn drum_log() -> String {
    DRUM_LOG.to_owned()
}

const PLAN: &str = include_str!("plan.toml");
const VISIT: &str = include_str!("visit.toml");
const WEATHER: &str = include_str!("weather.toml");
const DRUM_LOG: &str = include_str!("drum_log.toml");

#[cfg(test)]
pub(super) mod tests;
