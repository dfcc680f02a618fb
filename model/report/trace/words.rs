//! Words for the working: its parts, its quantities, their equations and the entries of the ledger.

use crate::report::number::What;

/// Id, words, and what a quantity measures.
const QUANTITIES: [(&str, &str, What); 84] = [
    ("station_pressure", "station pressure", What::Pressure),
    ("temperature", "temperature", What::Temperature),
    ("vapour_pressure", "vapour pressure", What::Pressure),
    ("humidity_ratio", "water per mass of dry air", What::Ratio),
    ("density", "density", What::Density),
    ("air_flow", "air flow", What::MassFlow),
    ("inlet_pressure", "pressure after the duct", What::Pressure),
    ("shaft_speed", "shaft speed", What::Rpm),
    ("belt_slip", "belt slip", What::Percent),
    ("pressure_ratio", "pressure ratio", What::Ratio),
    ("adiabatic_efficiency", "adiabatic efficiency", What::Ratio),
    (
        "outlet_temperature",
        "outlet temperature",
        What::Temperature,
    ),
    ("air_power", "power into the air", What::Power),
    ("shaft_power", "shaft power", What::Power),
    ("crank_power", "taken from the crank", What::Power),
    ("boost_asked", "boost target", What::Pressure),
    ("turbine_power", "turbine power", What::Power),
    ("gate_share", "through the wastegate", What::Percent),
    (
        "turbine_inlet_pressure",
        "turbine inlet pressure",
        What::Pressure,
    ),
    ("core", "core or water", What::Temperature),
    ("pressure_drop", "pressure drop", What::Pressure),
    ("heat_taken", "heat taken", What::Power),
    ("heat_rejected", "heat rejected", What::Power),
    ("water", "water", What::MassFlow),
    ("methanol", "methanol", What::MassFlow),
    ("nitrous_oxide", "nitrous oxide", What::MassFlow),
    (
        "charge_cooling",
        "intake air cooled by",
        What::TemperatureDifference,
    ),
    (
        "late_cooling",
        "cooled further in the cylinder by",
        What::TemperatureDifference,
    ),
    ("pressure", "pressure", What::Pressure),
    (
        "volumetric_efficiency",
        "volumetric efficiency",
        What::Ratio,
    ),
    ("wall_share", "heat transfer to the wall", What::Ratio),
    (
        "full_evaporation_drop",
        "drop if all fuel evaporated",
        What::TemperatureDifference,
    ),
    (
        "port_temperature",
        "charge after the valve",
        What::Temperature,
    ),
    ("inlet_mach_index", "inlet Mach index", What::Ratio),
    ("choking_index", "index at choking", What::Ratio),
    ("lambda", "lambda", What::Ratio),
    ("fuel_flow", "fuel flow", What::MassFlow),
    ("residual_share", "residual share", What::Percent),
    (
        "closing_temperature",
        "temperature at inlet valve closing",
        What::Temperature,
    ),
    (
        "closing_pressure",
        "pressure at inlet valve closing",
        What::Pressure,
    ),
    ("burn_duration", "burn duration", What::CrankAngle),
    ("octane_index", "octane index", What::Octane),
    (
        "best_half_burn",
        "50 % burned, for best torque",
        What::CrankAngle,
    ),
    ("half_burn", "50 % burned, used", What::CrankAngle),
    ("phasing_factor", "work left by this phasing", What::Ratio),
    ("peak_pressure", "peak pressure", What::Pressure),
    ("wall_heat", "heat to the walls", What::Percent),
    ("indicated_power", "gross indicated power", What::Power),
    ("valve_gas", "gas after the valve", What::Temperature),
    ("exhaust_gas", "gas in the exhaust", What::Temperature),
    (
        "exhaust_pressure",
        "pressure after the valve",
        What::Pressure,
    ),
    ("piston_speed", "piston speed", What::PistonSpeed),
    ("pumping_pressure", "pumping mean pressure", What::Pressure),
    (
        "friction_pressure",
        "friction mean pressure",
        What::Pressure,
    ),
    ("accessories", "accessories", What::Power),
    ("crank_torque", "torque at the crank", What::Torque),
    (
        "injector_pressure",
        "pressure across the injectors",
        What::Pressure,
    ),
    (
        "injector_flow_limit",
        "most the injectors deliver",
        What::MassFlow,
    ),
    ("injector_duty", "injector duty", What::Percent),
    ("pump_pressure", "pump pressure", What::Pressure),
    ("pump_flow_limit", "most the pump delivers", What::MassFlow),
    (
        "work_by_cycle",
        "change in the cylinder, by crank angle",
        What::Ratio,
    ),
    (
        "work_by_formulas",
        "the same, by these formulas",
        What::Ratio,
    ),
    ("work_factor", "factor on the work", What::Ratio),
    (
        "spinning_up_engine",
        "taken to spin up the engine",
        What::Torque,
    ),
    ("gearbox_torque", "torque into the gearbox", What::Torque),
    (
        "converter_speed_ratio",
        "torque converter speed ratio",
        What::Percent,
    ),
    ("overall_ratio", "overall ratio", What::Ratio),
    ("mesh_loss", "lost in gear meshes", What::Power),
    ("spin_loss", "lost to spinning gears", What::Power),
    ("wheel_torque", "torque at the wheels", What::Torque),
    (
        "spinning_up_wheels",
        "taken to spin up the wheels",
        What::Torque,
    ),
    ("rolling_radius", "rolling radius", What::Length),
    ("rolling_force", "rolling force", What::Force),
    ("tyre_slip", "tyre slip", What::Percent),
    ("drum_force", "force at the drum", What::Force),
    (
        "electric_share",
        "electric share of the reading",
        What::Power,
    ),
    ("brake_force", "taken by the brake", What::Force),
    ("drum_mass", "drums as a mass", What::Mass),
    ("drum_drag", "drag of the drums", What::Force),
    ("surface_speed", "surface speed", What::Speed),
    (
        "surface_acceleration",
        "surface acceleration",
        What::Acceleration,
    ),
    ("reading_power", "reading, power", What::Power),
    (
        "reading_torque",
        "reading, torque at engine speed",
        What::Torque,
    ),
];

/// Id, and the equation's name or where the number comes from.
const EQUATIONS: [(&str, &str); 99] = [
    ("given_absolute", "given, absolute"),
    ("given", "given"),
    ("humidity_reading", "from the humidity reading"),
    ("humidity_ratio", "0.622 p_v/(p − p_v)"),
    ("moist_ideal_gas", "ideal gas, moist"),
    (
        "air_balance",
        "where pressure delivered = pressure the cylinders need",
    ),
    ("duct_loss", "turbulent duct loss, ∝ flow²/density"),
    ("belt_drive", "engine speed · drive ratio · (1 − slip)"),
    ("belt_capacity", "belt creep and Euler-Eytelwein capacity"),
    (
        "blower_flow",
        "swept flow less leakage, or the map, at this flow",
    ),
    ("blower_losses", "the machine's loss model or map"),
    ("compression", "T₂ = T₁ [1 + (π^((γ−1)/γ) − 1)/η]"),
    ("compression_power", "flow · c_p · (T₂ − T₁)"),
    ("bearings_and_gears", "with bearings and gears"),
    ("belt_loss", "with belt loss and slip"),
    (
        "shaft_balance",
        "integrated over the pull: (η_m P_t − P_c)/(J ω), or set by boost control",
    ),
    ("boost_control", "absolute, at the compressor's outlet"),
    ("compressor_map", "the map at this flow and speed"),
    ("compressor_map_efficiency", "the map"),
    ("turbine_power", "ṁ c_p T₃ η [1 − (p₄/p₃)^((γ−1)/γ)]"),
    ("gate", "what boost control does not need"),
    ("turbine_orifice", "orifice of the turbine's area, absolute"),
    (
        "core_balance",
        "integrated over the pull: heat in less heat rejected",
    ),
    ("core_loss", "turbulent loss, ∝ flow²/density"),
    (
        "core_effectiveness",
        "effectiveness of the core at this flow",
    ),
    ("core_heat", "flow · c_p · (T_in − T_out)"),
    ("core_rejection", "conductance to the outside air"),
    (
        "spray_held_back",
        "limited, with the methanol, to half the fuel flow",
    ),
    (
        "methanol_held_back",
        "limited likewise; tank fuel is cut back for it",
    ),
    ("as_metered", "as metered"),
    (
        "methanol_as_metered",
        "as metered; tank fuel is cut back for it",
    ),
    (
        "nitrous_nozzle",
        "nozzle, ∝ √ bottle pressure; brings its own fuel",
    ),
    (
        "evaporation_saturated",
        "evaporation, stopped by saturated air",
    ),
    ("evaporation", "evaporation ahead of the manifold"),
    (
        "late_evaporation",
        "what is still liquid evaporates in the cylinder",
    ),
    ("manifold_balance", "absolute; delivered = needed"),
    (
        "manifold_wall",
        "warmed by the manifold wall, NTU ∝ flow^(−1/4)",
    ),
    ("ideal_gas", "ideal gas"),
    (
        "volumetric_efficiency",
        "flow over density · swept volume · N/2",
    ),
    ("wall_transfer", "1 − exp(−NTU)"),
    ("full_evaporation", "latent heat over heat capacity"),
    ("port_heating", "wall heating less evaporation"),
    (
        "taylor_index",
        "Taylor: piston speed · area ratio/(C · sound speed)",
    ),
    ("choked_valve", "valve choked for its whole open period"),
    (
        "mixture_by_supply",
        "dry air over the most fuel there is: the supply falls short",
    ),
    ("mixture_as_asked", "target, with offset and tilt"),
    ("fuel_for_air", "dry air over (λ · stoichiometric ratio)"),
    ("residual", "Fox, Cheng and Heywood 1993, less scavenging"),
    ("mixing", "fresh charge mixed with residual"),
    ("trapped_gas", "ideal gas on trapped mass"),
    ("wiebe", "Wiebe; ∝ speed, flame speed and density"),
    (
        "octane_index",
        "RON − K (RON − MON), less the part an alcohol owes to charge cooling",
    ),
    ("best_torque_phasing", "after top dead centre"),
    (
        "knock",
        "knock-limited: Livengood-Wu integral of Douaud and Eyzat's delay",
    ),
    (
        "knock_and_retard",
        "knock-limited (Livengood-Wu integral of Douaud and Eyzat's delay) and by the stated retard",
    ),
    (
        "best_torque",
        "best torque, later by cyclic variation near knock",
    ),
    (
        "best_torque_and_retard",
        "best torque and the stated retard",
    ),
    ("phasing_loss", "relative to best torque"),
    ("closed_cycle", "closed cycle, tabulated ratio"),
    ("woschni", "Woschni form, share of the heat released"),
    (
        "indicated_power_by_cycle",
        "dry air · fuel-air cycle work · level · mixture · compression · late evaporation · phasing · state · walls at best torque · that factor",
    ),
    (
        "indicated_power",
        "dry air · fuel-air cycle work · level · mixture · compression · late evaporation · phasing · state · walls at best torque",
    ),
    ("first_law", "first law over the cylinder"),
    ("exhaust_cooling", "cooling in port and manifold"),
    ("before_turbine", "as ahead of the turbine"),
    (
        "exhaust_loss",
        "turbulent loss of hot gas over ambient, absolute",
    ),
    ("mean_piston_speed", "mean: 2 · stroke · N"),
    ("pumping", "exhaust minus manifold, with valve loss"),
    ("chen_flynn", "Chen-Flynn form"),
    ("accessories", "at 6000 rpm, scaled with speed"),
    (
        "crank_balance",
        "indicated minus pumping, friction, accessories, blower",
    ),
    ("rail_less_manifold", "rail minus manifold"),
    (
        "injector_flow",
        "rated flow · √pressure · (duty limit − dead time)",
    ),
    ("injector_duty", "fuel over open flow, dead time added"),
    ("rail_gauge", "rail, gauge"),
    ("pump_flow", "rated flow, falling with pressure"),
    (
        "crank_angle_cycle",
        "crank-angle cycle with the plan's changes in the cylinder over that without, work per kilogram of air",
    ),
    (
        "mean_value_cylinder",
        "without late evaporation and uneven mixture, which no cycle model knows",
    ),
    (
        "cycle_over_formulas",
        "the first over the second: the change comes from the cycle, the level from the baseline",
    ),
    ("crank_inertia", "inertia at the crank · its acceleration"),
    (
        "clutch_or_converter",
        "what clutch or torque converter passes",
    ),
    (
        "converter_capacity",
        "torque over stall torque at this speed",
    ),
    ("overall_ratio", "gear · final drive"),
    ("mesh_loss", "share of the torque, stage by stage"),
    ("spin_loss", "drag of bearings and oil at its temperature"),
    ("after_gears", "after the gears"),
    ("wheel_inertia", "shafts and wheels · their acceleration"),
    ("growing_radius", "grows with speed"),
    (
        "rolling_on_drum",
        "coefficient · load · √(1 + r/R) on the drum",
    ),
    ("slip_stiffness", "force over stiffness · load"),
    ("engine_axle", "engine's axle"),
    (
        "electric_axle",
        "motor map, battery and reduction; never corrected",
    ),
    ("brake_ramp", "what the ramp leaves"),
    ("drum_mass", "I/R²"),
    ("drum_drag", "constant, ∝ speed and ∝ speed²"),
    ("surface_speed", "wheel speed · radius/(1 + slip)"),
    (
        "surface_acceleration",
        "net force over drum mass, or the brake's ramp",
    ),
    (
        "reading",
        "(mass · acceleration + brake) · speed, drag added back if the rig does",
    ),
    ("reading_torque", "power over engine speed"),
];

const PARTS: [(&str, &str); 14] = [
    ("air", "Air in the room"),
    ("inlet", "Inlet"),
    ("blower", "Blower"),
    ("turbocharger", "Turbocharger"),
    ("charge_cooler", "Intercooler"),
    ("spray", "Spray and nitrous oxide"),
    ("manifold", "Manifold"),
    ("port", "Port and inlet valve"),
    ("charge", "Charge in the cylinder"),
    ("burn", "Burn, knock and work"),
    ("exhaust", "Exhaust"),
    ("friction", "Friction and pumping"),
    ("fuel_supply", "Fuel supply"),
    ("drums", "Driveline and drums"),
];

/// Entries of the ledger; those set in are part of the one above.
const ENTRIES: [(&str, &str); 14] = [
    ("fuel", "fuel, lower heating value"),
    ("nitrous_oxide", "nitrous oxide, less its evaporation"),
    ("indicated", "gross indicated"),
    ("pumping", "  pumping"),
    ("friction", "  friction"),
    ("accessories", "  accessories"),
    ("blower", "  blower"),
    ("crank", "at the crank"),
    ("walls", "heat to the cylinder walls"),
    ("cooler", "heat to the intercooler"),
    ("sprayed_water", "evaporation of sprayed water"),
    ("exhaust", "exhaust heat above 25 °C (77 °F)"),
    ("turbine", "  of it to the turbine"),
    ("unreleased", "fuel energy not released for lack of air"),
];

fn find(table: &'static [(&'static str, &'static str)], id: &str) -> Option<&'static str> {
    table.iter().find(|row| row.0 == id).map(|row| row.1)
}

/// Words of a quantity, and what it measures.
pub(super) fn measured(id: &str) -> Option<(&'static str, What)> {
    let row = QUANTITIES.iter().find(|row| row.0 == id);
    row.map(|row| (row.1, row.2))
}

/// Words of a quantity.
pub(crate) fn quantity(id: &str) -> Option<&'static str> {
    measured(id).map(|found| found.0)
}

/// Name of an equation.
pub(crate) fn equation(id: &str) -> Option<&'static str> {
    find(&EQUATIONS, id)
}

/// Words of a part.
pub(crate) fn part(id: &str) -> Option<&'static str> {
    find(&PARTS, id)
}

/// Words of an entry of the ledger.
pub(crate) fn entry(id: &str) -> Option<&'static str> {
    find(&ENTRIES, id)
}
