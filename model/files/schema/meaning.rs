//! What each key means: numbers of a car by the catalogue, everything else by the rows here.

use std::cmp::Reverse;

use super::FileKind;
use crate::belief::parameter;

/// The end of a key's path, and what it means.
type Row = (&'static str, &'static str);

/// Of every kind of file.
#[rustfmt::skip]
const HEAD: &[Row] = &[
    ("kind", "Which kind of file this is"),
    ("version", "Version of the format"),
    ("name", "What the shop calls it"),
];

/// Of a shop's profile.
#[rustfmt::skip]
const SHOP: &[Row] = &[
    ("letterhead", "Further lines under the shop's name on a sheet"),
    ("units", "Units shown unless a call says otherwise; metric unless given"),
    ("standard", "Correction shown beside the uncorrected figures; sae-j1349 unless given"),
    ("quote_holds_days", "How many days a quote holds, from its date on"),
    ("cautions", "What the shop wants minded, on every sheet"),
    ("visit_repeatability", "How far readings of one car stray from visit to visit, one standard deviation; 1.5 % unless given"),
    ("pull_repeatability", "How far they stray from pull to pull within a visit; 0.7 % unless given"),
    ("rig", "A rig of the shop; a car file without drums stands on the first, or on the one it names with rig = \"name\""),
    ("rig.drums", "The rig, as in a car file"),
    ("pump", "A fuel on sale; a car file without fuel is filled with the first, or with the one it names with fuel = \"name\""),
    ("pump.fuel", "The fuel, as in a car file"),
];

/// Of a class.
#[rustfmt::skip]
const CLASS: &[Row] = &[
    ("correction", "Standard to which power is corrected; none for power as read"),
    ("grid", "Width of engine speed over which power is averaged; averages stand at its whole multiples"),
    ("counts", "Whether the highest of several pulls counts or their mean"),
    ("tolerance", "How far above a limit is let pass"),
    ("highest_power", "Most power that the class allows"),
    ("highest_power_to_weight", "Most power for each mass, or least mass for each power"),
    ("boost", "Boost as declared"),
    ("boost.tolerance", "How far above what is declared is let pass"),
    ("boost.highest", "Most boost at any engine speed, gauge"),
    ("boost.speed", "Engine speeds of a declared curve, rising"),
    ("boost.gauge", "Its gauge pressures"),
];

/// Of a car.
#[rustfmt::skip]
const CAR: &[Row] = &[
    ("car", "The car as a whole"),
    ("car.mass", "Mass of the car with driver; tyre loads follow from it"),
    ("engine", "The engine"),
    ("engine.cylinders", "Number of cylinders"),
    ("engine.inlet_valves", "Inlet valves per cylinder; 2 unless given"),
    ("engine.fuelling", "How fuel meets the air: injection unless given"),
    ("engine.reference_flow", "Flow at which intake, exhaust and port losses are stated"),
    ("engine.displacement", "Displacement of all cylinders, in place of bore or stroke; alone, the two are taken equal with a doubt"),
    ("breathing", "How the cylinders fill at full load"),
    ("combustion", "How the mixture turns into work, and where it knocks"),
    ("friction", "Friction, pumping and accessories"),
    ("tune", "The tune at full load"),
    ("fuel", "What is in the tank"),
    ("fuel.kind", "Kind of fuel; petrol unless given"),
    ("intake", "Filter, ducts and throttle"),
    ("exhaust", "Manifolds, catalysts and silencers"),
    ("blower", "The blower, if the car has one"),
    ("blower.kind", "Kind of blower"),
    ("blower.drive_ratio", "Blower shaft or wheel turns per crank turn"),
    ("blower.pulley_diameter", "Pulley on the blower; 80 mm unless given"),
    ("blower.max_speed", "Highest shaft speed"),
    ("blower.bypass_area", "Area of the bypass, open at full load"),
    ("cooler", "The charge cooler, if the car has one"),
    ("cooler.kind", "What the charge is cooled by"),
    ("driveline", "From clutch to axle"),
    ("driveline.drive", "Wheels that the engine drives; rear unless given"),
    ("driveline.gearbox", "Kind of gearbox; manual unless given"),
    ("driveline.oil", "Grade of the gear oil; 75W-90 unless given"),
    ("wheels", "Wheels and tyres that the engine drives"),
    ("injectors", "The injectors, if they are known"),
    ("injectors.count", "How many; one for each cylinder unless given"),
    ("fuel_pump", "The fuel pump, if it is known"),
    ("fuel_rail", "The fuel rail, where injectors or pump are known"),
    ("fuel_rail.reference", "What its pressure is held above; the manifold unless given"),
    ("clutch", "The clutch, or the lock-up clutch of an automatic, if it is known"),
    ("clutch.friction", "Coefficient of friction of its facings"),
    ("converter", "The converter of an automatic"),
    ("converter.locked", "Whether it is locked during the pull: then it slips nowhere"),
    ("limits", "Past these the reports say so"),
    ("limits.exhaust_temperature", "Gas in the exhaust manifold; 980 °C unless given"),
    ("limits.peak_pressure", "Peak cylinder pressure; 120 bar unless given"),
    ("limits.piston_speed", "Mean piston speed; 25 m/s unless given"),
    ("limits.tyre_speed", "Speed of the driven tyres; none unless given"),
    ("electric_axle", "The electric axle, if the car has one"),
    ("electric_axle.battery_voltage", "Nominal voltage of the battery; 350 V unless given"),
    ("electric_axle.battery_energy", "Energy content of the battery; a tenth of an hour at peak power unless given"),
    ("electric_axle.battery_power", "Power that the battery management allows; 1.15 of the peak power unless given"),
    ("electric_axle.motor_top_speed", "Highest speed of the motor; 21 000 rpm unless given"),
    ("electric_axle.tyre_radius", "Rolling radius of its tyres; as the other axle's unless given"),
    ("electric_axle.cut_speed", "Axle speed at which its help has faded out; never unless given"),
    ("electric_axle.cut_taper", "Last share of that speed over which it fades; 7 % unless given"),
    ("electric_axle.ramp", "Time its torque takes to come in; none unless given"),
    ("electric_axle.rated_power", "Peak power that losses and heat are scaled from; the peak power unless given"),
    ("electric_axle.rated_torque", "Peak torque that losses are scaled from; the peak torque unless given"),
    ("drums", "The drums of the dynamometer, or a rig bolted to the hubs"),
    ("drums.coupling", "How the drums of two axles are joined; one axle's drums alone unless given"),
    ("drums.contact", "How the car meets the rig; by its tyres unless given"),
    ("drums.ramp_per_second", "Engine speed that a brake lets the engine gain in a second"),
    ("drums.surface_ramp_per_second", "Surface speed that a brake lets the car gain in a second"),
    ("drums.sweep_time", "Time from start to end of a pull that a brake leads"),
    ("posterior", "Written by a fit, not meant to be edited"),
    ("posterior.order", "The numbers in doubt, in the order of the correlations"),
    ("posterior.correlation", "Lower triangle of their correlations"),
    ("posterior.fitted", "Whether the doubts come from a fit"),
    ("posterior.measured_from", "Lowest engine speed that the pulls covered"),
    ("posterior.measured_to", "Highest engine speed that the pulls covered"),
    ("posterior.reservations", "What speaks against the fit; told whenever the car is used"),
    ("posterior.knock_table", "What the table of the knock limit was made for"),
    ("knock_table.bore", "Bore"),
    ("knock_table.stroke", "Stroke"),
    ("knock_table.rod_length", "Rod length"),
    ("knock_table.compression_ratio", "Compression ratio"),
    ("knock_table.lambda", "Mixture"),
];

/// Of a plan.
#[rustfmt::skip]
const PLAN: &[Row] = &[
    ("part", "A part of the shop's shelf, by its name; kind and keys come from there, those written here go first"),
    ("part_version", "Which version of it; the newest unless given"),
    ("change", "A piece of work"),
    ("change.kind", "Kind of work"),
    ("change.friction", "Coefficient of friction of a clutch's facings, or of a belt"),
    ("change.note", "Anything the shop wants to note"),
];

/// Of a visit.
#[rustfmt::skip]
const VISIT: &[Row] = &[
    ("band", "Width of the bands of engine speed that make a point; 100 rpm unless given"),
    ("weather", "The air in the room; in a pull, readings that replace the visit's"),
    ("pull", "A recording, or several pulls in one"),
    ("pull.file", "The recording, from the folder of this file"),
    ("pull.columns", "Answers to what a recording leaves open, as \"header = wheel_power_hp\""),
    ("pull.name", "Another name for the pull"),
    ("pull.read_at", "Where the power was read: on the drums, unless given, or at the crank, each speed held"),
    ("pull.level_doubt", "How far the level of the curve may be off, one standard deviation; the repeatability of pulls unless given"),
    ("pull.rest_before", "Time since the pull before"),
    ("pull.electric_axle", "Whether the electric axle helped; on unless given"),
    ("pull.charge", "Charge of the battery at the start"),
    ("pull.core_temperature", "Temperature of the charge cooler at the start"),
    ("pull.battery_temperature", "Temperature of the battery at the start"),
    ("pull.motor_temperature", "Temperature of the motor at the start"),
    ("pull.corrected_to", "Standard to which a recording of corrected power alone was corrected; its factor is undone"),
    ("pull.trust_recording", "Whether the recording is taken as it stands where it contradicts itself or the car file"),
    ("pull.entered", "What was typed into the rig, for a diagnosis"),
    ("entered.drum_inertia", "Moment of inertia of the drums"),
    ("entered.gear", "Ratio of the gear"),
    ("entered.final_drive", "Final-drive ratio"),
    ("entered.correction", "Standard that the corrected column claims"),
    ("entered.engine_speed", "Where engine speed comes from; measured unless given"),
];

/// Of a drum log.
#[rustfmt::skip]
const DRUM_LOG: &[Row] = &[
    ("log", "The log of the drum: time, and drum speed or counts"),
    ("columns", "Answers to what the logs leave open, as \"header = drum_speed\""),
    ("engine_log", "A log of the engine on a clock of its own"),
    ("method", "How to smooth; the state-space smoother unless given"),
    ("span", "Window of the local polynomials; 100 rpm unless given"),
    ("band", "Width of the bands of engine speed that make a point; 50 rpm unless given"),
    ("drums", "The drums"),
    ("drums.inertia", "Moment of inertia of the drums"),
    ("drums.radius", "Radius of the drums"),
    ("drums.pulses_per_turn", "Counts in a turn, where the log has counts"),
    ("drums.drag", "Drag of the drums at rest, at their surface"),
    ("drums.bearing_drag", "Drag of the drums that grows with speed, at 50 m/s"),
    ("drums.air_drag", "Drag of the drums that grows with speed squared, at 50 m/s"),
    ("gearing", "Engine speed where no log has it, without slip"),
    ("gearing.gear", "Ratio of the gear"),
    ("gearing.final_drive", "Final-drive ratio"),
    ("gearing.tyre_radius", "Rolling radius of the driven tyres"),
    ("drums.force", "What a force in the log is, where the log does not show it: all of it or the brake's alone, and which way it counts"),
    ("drums.force_doubt", "Doubt of the force cell's scale, one standard deviation"),
    ("drums.road_load", "A car on the road that the rig simulates"),
    ("drums.road_load.mass", "Mass that the rig makes the car feel"),
    ("drums.road_load.drag", "Load that the rig adds at rest; negative where it pushes"),
    ("drums.road_load.bearing_drag", "Load that the rig adds in proportion to speed, at 50 m/s"),
    ("drums.road_load.air_drag", "Load that the rig adds with speed squared, at 50 m/s"),
    ("coast_down", "A run-down in the log, from which drag is found"),
    ("coast_down.state", "What turned with the drum"),
    ("coast_down.turning_mass", "Mass at the drum's surface of what turned with it"),
    ("coast_down.from", "Where in the log the run-down begins"),
    ("coast_down.to", "Where it ends"),
];

/// Of parts and readings that several kinds of file state alike.
#[rustfmt::skip]
const SHARED: &[Row] = &[
    ("ethanol", "Ethanol in the fuel by volume, as measured"),
    ("tip_speed_limit", "Highest speed of the wheel's rim"),
    ("claims", "A point that the maker prints"),
    ("claims.pressure_ratio", "Pressure ratio of that point"),
    ("claims.shaft_speed", "Shaft speed of that point"),
    ("claims.volumetric_efficiency", "Volumetric efficiency there"),
    ("claims.isentropic_efficiency", "Isentropic efficiency there"),
    ("map", "File with the points of the compressor's map"),
    ("map_points", "The points of the compressor's map"),
    ("rated_point", "The one rated point of the compressor, from which a map is drawn with more doubt"),
    ("reference_pressure", "Pressure to which the flows are corrected"),
    ("reference_temperature", "Temperature to which the flows are corrected"),
    ("wheel_diameter", "Diameter of the wheel that was measured"),
    ("map_points.speed", "Wheel speeds"),
    ("map_points.flow", "Corrected flows"),
    ("map_points.pressure_ratio", "Pressure ratios"),
    ("map_points.efficiency", "Efficiencies"),
    ("rated_point.speed", "Wheel speed"),
    ("rated_point.flow", "Corrected flow"),
    ("rated_point.pressure_ratio", "Pressure ratio"),
    ("rated_point.efficiency", "Efficiency"),
    ("count", "How many, alike and side by side; 1 unless given"),
    ("boost", "Boost target, gauge"),
    ("boost_absolute", "Boost target as absolute pressure"),
    ("boost_curve", "Boost target over engine speed"),
    ("boost_curve.speed", "Engine speeds, rising"),
    ("boost_curve.gauge", "Gauge pressures"),
    ("boost_curve.absolute", "Absolute pressures"),
    ("turbine_map", "File with the points of the turbine's map"),
    ("turbine_map_points", "The points of the turbine's map"),
    ("turbine_map_points.flow", "Corrected flows"),
    ("turbine_map_points.expansion_ratio", "Expansion ratios, total before over static behind"),
    ("turbine_map_points.efficiency", "Efficiencies"),
    ("turbine_map_points.speed", "Speeds; checked, and tell nothing"),
    ("turbine_map_points.test_gas", "Gas of the test; air unless given"),
    ("turbine_map_points.bearings", "Whether the friction of the bearings is in the efficiency; not unless given"),
    ("faces", "Faces of the clutch"),
    ("clamp", "Force that clamps it"),
    ("outer_radius", "Outer radius of its facings"),
    ("inner_radius", "Inner radius of its facings"),
    ("drag_added_back", "Whether the rig adds its own drag back to its reading; not unless given"),
    ("decimal", "The decimal sign of a recording that leaves it open"),
    ("units", "Units of columns that a recording leaves open, as \"header: unit\""),
    ("manifold_pressure", "Against what a recording measures manifold pressure"),
    ("temperature", "Temperature of the air in the room"),
    ("relative_humidity", "Relative humidity"),
    ("dew_point", "Dew point, in place of the relative humidity"),
    ("wet_bulb", "Wet-bulb temperature, in place of the relative humidity"),
    ("station_pressure", "Pressure as a barometer in the room reads it"),
    ("sea_level_pressure", "Pressure of a weather report, reduced to sea level; needs the altitude"),
    ("altimeter", "Altimeter setting of an airfield; needs the altitude"),
    ("altitude", "Altitude of the room"),
];

/// The rows of a kind of file, the most particular first.
fn rows(kind: FileKind) -> impl Iterator<Item = &'static Row> {
    let own = match kind {
        FileKind::Car => CAR,
        FileKind::Plan => PLAN,
        FileKind::Visit => VISIT,
        FileKind::Weather => &[],
        FileKind::DrumLog => DRUM_LOG,
        FileKind::Shop => SHOP,
        FileKind::Class => CLASS,
    };
    own.iter().chain(SHARED).chain(HEAD)
}

/// The row of a key.
fn row(kind: FileKind, path: &str) -> Option<&'static Row> {
    let fits = |end: &str| {
        path.strip_suffix(end)
            .is_some_and(|rest| rest.is_empty() || rest.ends_with('.'))
    };
    rows(kind)
        .filter(|(end, _)| fits(end))
        .min_by_key(|(end, _)| Reverse(end.matches('.').count()))
}

/// What a key means.
pub(super) fn of(kind: FileKind, path: &str) -> Option<String> {
    // A profile's rigs and pumps hold tables of a car.
    let of_car = path
        .strip_prefix("rig.")
        .or_else(|| path.strip_prefix("pump."));
    if let Some(path) = of_car.filter(|path| kind == FileKind::Shop && path.contains('.')) {
        return of(FileKind::Car, path);
    }
    let entry = parameter::find(path).filter(|_| kind == FileKind::Car);
    if let Some(entry) = entry {
        let default = crate::files::starter::default_of(entry);
        let default = default.map_or(String::new(), |text| format!("; {text} unless given"));
        return Some(format!(
            "{}{default}. Basis: {}",
            capital(entry.meaning),
            entry.basis
        ));
    }
    row(kind, path).map(|(_, meaning)| (*meaning).to_owned())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters.clone()).collect()
}

/// Every row, for a test that none is left over.
#[cfg(test)]
pub(super) fn unused(used: &[(FileKind, String)]) -> Vec<&'static str> {
    let taken: Vec<&Row> = used
        .iter()
        .filter_map(|(kind, path)| row(*kind, path))
        .collect();
    let all = [HEAD, CAR, PLAN, VISIT, DRUM_LOG, SHARED].concat();
    all.iter()
        .map(|(end, meaning)| (*end, *meaning))
        .filter(|own| !taken.iter().any(|row| **row == *own))
        .map(|(end, _)| end)
        .collect()
}
