//! Words for the kinds of planned work, as they stand in the middle of a sentence.

const WORDS: [(&str, &str); 38] = [
    ("displacement_blower", "new blower"),
    ("centrifugal_blower", "new blower"),
    ("turbocharger", "new turbocharger"),
    ("boost", "new boost"),
    ("remove_blower", "blower taken off"),
    ("pulley", "new pulley"),
    ("charge_cooler", "new intercooler"),
    ("remove_charge_cooler", "intercooler taken out"),
    ("intake", "new intake"),
    ("exhaust", "new exhaust"),
    ("throttle", "new throttle"),
    ("headers", "headers"),
    ("camshaft", "new camshaft"),
    ("cylinder_head", "cylinder head work"),
    ("bore_and_stroke", "new bore and stroke"),
    ("tank_mix", "fuel mixed in the tank"),
    ("octane", "new octane"),
    ("spark", "new spark"),
    ("water_methanol", "water-methanol"),
    ("nitrous", "nitrous oxide"),
    ("compression_ratio", "new compression ratio"),
    ("fuel", "new fuel"),
    ("mixture", "new mixture"),
    ("redline", "new redline"),
    ("gearing", "new gearing"),
    ("wheels", "new wheels"),
    ("electric_axle", "electric axle's calibration"),
    ("injectors", "new injectors"),
    ("fuel_pump", "new fuel pump"),
    ("fuel_rail", "new rail pressure"),
    ("turning_parts", "new turning parts"),
    ("driveline_oil", "new gear oil"),
    ("clutch", "new clutch"),
    ("converter", "new torque converter"),
    ("belt", "new belt"),
    ("battery", "new battery"),
    ("tyres", "new tyres"),
    ("mass", "mass added or taken out"),
];

/// Words for a kind of change.
pub(super) fn of(id: &str) -> Option<&'static str> {
    WORDS.iter().find(|row| row.0 == id).map(|row| row.1)
}

/// The same, and a plain word for a kind without a row.
pub(super) fn kind_words(id: &str) -> &'static str {
    of(id).unwrap_or("change")
}
