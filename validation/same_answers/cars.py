"""Random cars of every make: how they are charged and cooled, an electric axle, the drums they stand on, every optional table."""

from plans import between, compressor, displacement, doubt, flow_kg_s, may, turbocharger, ROTORS
from toml_text import document

MAKES = ("none", "roots", "twisted lobe", "high helix", "screw", "centrifugal", "turbocharger", "turbocharger")

# Numbers in doubt that any car may state: path, unit, lowest, highest, relative doubt.
NUMBERS = (
    ("engine.inlet_open_duration", "deg", 235, 265, 0.03),
    ("engine.inlet_closing", "deg", 45, 68, 0.12),
    ("engine.inlet_flow_coefficient", "", 0.32, 0.4, 0.05),
    ("engine.overlap_factor", "", 0.6, 2.5, 0.3),
    ("engine.inertia", "kg m2", 0.1, 0.3, 0.15),
    ("breathing.level", "", 0.95, 1.1, 0.05),
    ("breathing.tilt", "", -0.05, 0.05, 0.5),
    ("breathing.ram_speed", "", 0.55, 0.75, 0.08),
    ("breathing.choking_ratio", "", 0.9, 1.1, 0.08),
    ("breathing.choking_exponent", "", 3, 5, 0.2),
    ("breathing.manifold_heating", "", 0.05, 0.2, 0.3),
    ("breathing.port_heating", "", 0.06, 0.2, 0.3),
    ("breathing.wall_temperature", "°C", 80, 105, 0.05),
    ("breathing.evaporation", "", 0.15, 0.45, 0.3),
    ("breathing.low_hump_height", "", -0.03, 0.05, 0.5),
    ("breathing.middle_hump_height", "", -0.02, 0.07, 0.5),
    ("breathing.high_hump_height", "", -0.02, 0.07, 0.5),
    ("breathing.low_hump_speed", "rpm", 2500, 3200, 0.06),
    ("breathing.middle_hump_speed", "rpm", 4000, 4800, 0.06),
    ("breathing.high_hump_speed", "rpm", 5400, 6400, 0.06),
    ("combustion.level", "", 0.76, 0.85, 0.04),
    ("combustion.compression_exponent", "", 0.6, 1.0, 0.2),
    ("combustion.best_lambda", "", 0.86, 0.92, 0.02),
    ("combustion.mixture_curvature", "", 1.0, 2.6, 0.3),
    ("combustion.late_evaporation", "", 0.2, 0.5, 0.3),
    ("combustion.best_ca50", "deg", 6.5, 10, 0.15),
    ("combustion.retard_multiplier", "", 0.9, 1.2, 0.1),
    ("combustion.burn_duration", "deg", 44, 58, 0.1),
    ("combustion.burn_speed_exponent", "", 0.2, 0.45, 0.2),
    ("combustion.heat_loss", "", 0.8, 1.3, 0.2),
    ("combustion.knock_delay", "", 0.7, 1.5, 0.3),
    ("combustion.octane_weight", "", -0.3, 0.3, 0.5),
    ("friction.constant", "kPa", 28, 55, 0.3),
    ("friction.per_peak_pressure", "", 0.003, 0.007, 0.3),
    ("friction.linear", "kPa", 30, 62, 0.3),
    ("friction.quadratic", "kPa", 4, 10, 0.3),
    ("friction.oil_temperature", "°C", 75, 110, 0.07),
    ("friction.valve_pumping", "kPa", 12, 28, 0.3),
    ("friction.accessories", "kW", 1, 4, 0.3),
    ("tune.lambda", "", 0.8, 0.93, 0.02),
    ("tune.lambda_offset", "", -0.015, 0.015, 0.5),
    ("tune.lambda_tilt", "", -0.03, 0.01, 0.5),
    ("tune.retard", "deg", 0.5, 4, 0.3),
    ("intake.loss", "kPa", 2, 7, 0.3),
    ("exhaust.back_pressure", "kPa", 15, 50, 0.2),
    ("exhaust.port_cooling", "K", 90, 170, 0.2),
    ("driveline.gearbox_efficiency", "", 0.96, 0.985, 0.008),
    ("driveline.gearbox_drag", "N m", 2, 8, 0.3),
    ("driveline.final_drive_efficiency", "", 0.95, 0.98, 0.01),
    ("driveline.final_drive_drag", "N m", 1.5, 6, 0.3),
    ("driveline.oil_temperature", "°C", 55, 105, 0.1),
    ("driveline.shaft_inertia", "kg m2", 0.02, 0.06, 0.2),
    ("driveline.gearbox_inertia", "kg m2", 0.01, 0.03, 0.2),
    ("wheels.inertia", "kg m2", 2.2, 4.2, 0.1),
    ("wheels.load", "N", 6000, 11000, 0.15),
    ("wheels.rolling_coefficient", "", 0.009, 0.014, 0.15),
    ("wheels.slip_stiffness", "", 9, 16, 0.2),
    ("wheels.growth", "", 0.005, 0.015, 0.3),
    ("wheels.temperature", "°C", 30, 70, 0.2),
    ("drums.drag", "N", 15, 60, 0.2),
    ("drums.air_drag", "N", 10, 60, 0.2),
    ("drums.bearing_drag", "N", 5, 30, 0.2),
)
# The same for a car that has the part.
OF_BLOWER = (
    ("blower.leak_area", "mm2", 20, 60, 0.25),
    ("blower.efficiency_scale", "", 0.75, 0.9, 0.06),
    ("blower.filling_loss", "", 0.02, 0.09, 0.3),
    ("blower.mechanical_loss", "", 0.03, 0.06, 0.2),
)
OF_BELT = (
    ("blower.belt_creep", "", 0.005, 0.015, 0.3),
    ("blower.belt_efficiency", "", 0.95, 0.97, 0.01),
    ("blower.belt_friction", "", 0.85, 1.2, 0.2),
    ("blower.belt_tension", "N", 2200, 4500, 0.1),
)
OF_MAP = (("blower.flow_factor", "", 0.96, 1.04, 0.03), ("blower.efficiency_factor", "", 0.96, 1.04, 0.03))
OF_CENTRIFUGAL = (("blower.gear_efficiency", "", 0.94, 0.975, 0.01),)
OF_TURBO = (
    ("blower.turbo_inertia", "kg cm2", 0.15, 1.2, 0.4),
    ("blower.boost_factor", "", 0.97, 1.03, 0.02),
    ("blower.start_boost", "kPa", 1, 8, 0.5),
)
OF_COOLER = (
    ("cooler.effectiveness", "", 0.6, 0.82, 0.06),
    ("cooler.reference_flow", "g/s", 120, 350, 0.05),
    ("cooler.flow_exponent", "", -0.22, -0.08, 0.3),
    ("cooler.pressure_drop", "kPa", 3, 10, 0.2),
    ("cooler.heat_capacity", "kJ/K", 4, 18, 0.3),
    ("cooler.rejection", "W/K", 40, 250, 0.4),
)
OF_AXLE = (
    ("electric_axle.efficiency", "", 0.965, 0.98, 0.006),
    ("electric_axle.battery_resistance", "ohm", 0.06, 0.16, 0.3),
    ("electric_axle.assist", "", 0.7, 0.98, 0.02),
    ("electric_axle.wheels_inertia", "kg m2", 3, 5, 0.2),
    ("electric_axle.load", "N", 6000, 9000, 0.15),
)


def state(rng, tables, numbers, chance):
    """States some of the numbers, each with or without a doubt. What may be negative or has no natural zero is stated exactly or as ±."""
    for path, unit, low, high, relative in numbers:
        if rng.random() >= chance:
            continue
        table, key = path.split(".")
        number = between(rng, low, high)
        if low < 0 or unit == "°C":
            spread = float("%.3g" % (relative * max(abs(low), abs(high))))
            text = "%r ± %r%s" % (number, spread, " " + unit if unit else "")
            tables.setdefault(table, {}).setdefault(key, text if rng.random() < 0.5 else (("%r %s" % (number, unit)) if unit else number))
        else:
            tables.setdefault(table, {}).setdefault(key, doubt(rng, number, unit, relative))


def size(rng, car, engine):
    """Bore and stroke, displacement alone, or displacement with one of them."""
    bore, stroke, litres = "%.4g mm" % car["bore"], "%.4g mm" % car["stroke"], "%.4g L" % car["litres"]
    form = rng.randrange(5)
    if form < 3:
        engine.update(bore=bore, stroke=stroke)
    elif form == 3:
        engine.update(displacement=litres)
    else:
        engine.update(displacement=litres, bore=bore)


def fuel(rng):
    kind = rng.choice(["petrol", "petrol", "petrol with ethanol", "petrol with ethanol", "ethanol", "methanol"])
    table = {"kind": kind}
    if kind.startswith("petrol"):
        table["research_octane"] = doubt(rng, rng.choice([91, 95, 98, 102]), "", 0.003)
        may(rng, table, "motor_octane", rng.choice([83, 85, 88]), 0.3)
    if kind == "petrol with ethanol":
        table["ethanol"] = "%d %%" % rng.choice([5, 10, 30, 80])
    return table


def drums(rng, car):
    table = {"inertia": doubt(rng, between(rng, 90, 420), "kg m2", 0.01)}
    if rng.random() < 0.12:
        table["contact"] = "hubs"
        table["inertia"] = doubt(rng, between(rng, 25, 60), "kg m2", 0.01)
    else:
        table["radius"] = "%r m" % rng.choice([0.3175, 0.35, 0.4064, 0.5, 0.6096])
    coupling = rng.choice(["single", "linked", "separate"] if car["electric"] or car["drive"] == "all" else ["single", "single", "linked"])
    table["coupling"] = coupling
    if coupling == "separate":
        table["second_inertia"] = doubt(rng, between(rng, 60, 200), "kg m2", 0.01)
    may(rng, table, "drag_added_back", True, 0.2)
    if rng.random() < 0.12:
        table.update(geared_inertia="%r kg m2" % between(rng, 0.05, 0.4, 2), geared_ratio=between(rng, 2, 8, 2))
    if rng.random() < 0.3:
        key, low, high, unit = rng.choice(
            [("ramp_per_second", 200, 600, "rpm"), ("surface_ramp_per_second", 4, 10, "km/h"), ("sweep_time", 8, 20, "s")]
        )
        table[key] = "%r %s" % (between(rng, low, high, 3), unit)
    return table


def axle(rng):
    kw = between(rng, 40, 140, 3)
    table = {
        "peak_power": doubt(rng, kw, "kW", 0.03),
        "peak_torque": doubt(rng, between(rng, 150, 320, 3), "N m", 0.03),
        "reduction": between(rng, 6, 10.5, 3),
    }
    for key, value in (
        ("battery_voltage", "%r V" % between(rng, 280, 400, 3)),
        ("battery_energy", "%r kWh" % between(rng, 2, 14, 3)),
        ("battery_power", "%.4g kW" % (1.1 * kw)),
        ("motor_top_speed", "%d rpm" % rng.choice([13000, 16000, 20000])),
        ("tyre_radius", "0.32 m"),
        ("cut_speed", "%d rpm" % rng.randint(1100, 1900)),
        ("cut_taper", "9 %"),
        ("ramp", "0.3 s"),
    ):
        may(rng, table, key, value, 0.3)
    return table


def fuel_supply(rng, car, tables):
    per_injector = 1e3 * flow_kg_s(car) * 60 / 12 / 0.745 / car["cylinders"] * rng.uniform(1.0, 2.2)
    tables["injectors"] = {"flow": doubt(rng, float("%.4g" % per_injector), "cm3/min")}
    may(rng, tables["injectors"], "rated_pressure", "300 kPa", 0.4)
    may(rng, tables["injectors"], "dead_time", "0.9 ± 0.2 ms", 0.4)
    may(rng, tables["injectors"], "duty_limit", "0.9 ± 0.03", 0.4)
    may(rng, tables["injectors"], "count", car["cylinders"], 0.3)
    if rng.random() < 0.6:
        tables["fuel_pump"] = {"flow": doubt(rng, between(rng, 120, 400, 3), "L/h", 0.1)}
        may(rng, tables["fuel_pump"], "fall", "0.12 ± 0.03", 0.4)
        may(rng, tables["fuel_pump"], "rated_pressure", "400 kPa", 0.3)
    if rng.random() < 0.6:
        tables["fuel_rail"] = {"reference": rng.choice(["manifold", "outside"])}
        may(rng, tables["fuel_rail"], "pressure", "%d kPa" % rng.randint(280, 450), 0.7)


def blower(rng, car, folder):
    make = car["blower"]
    if make == "turbocharger":
        return {"kind": make, **turbocharger(rng, car, folder, "map.csv")}
    if make == "centrifugal":
        flow = 1.4 * flow_kg_s(car)
        wheel_mm = 53 * (flow / 0.15) ** 0.5
        ratio = 330e3 / (3.14159 * wheel_mm) * 60 / car["redline"]
        table = {"kind": make, "drive_ratio": float("%.4g" % ratio), **compressor(rng, flow, folder, "map.csv")}
        may(rng, table, "tip_speed_limit", "510 m/s", 0.3)
        return table
    table = {"kind": make, **displacement(rng, car, make)}
    table["drive_ratio"] = float(str(table["drive_ratio"]).split()[0])
    may(rng, table, "bypass_area", "%d mm2" % rng.randint(300, 900), 0.3)
    return table


def car(rng, number, folder):
    """Writes `car.toml`; returns what a plan has to know of it."""
    make = MAKES[number % len(MAKES)]
    cylinders = rng.choice([3, 4, 4, 4, 5, 6, 6, 8, 8, 10])
    bore, stroke = between(rng, 76, 100), between(rng, 74, 98)
    known = {
        "blower": None if make == "none" else make,
        "cylinders": cylinders,
        "bore": bore,
        "stroke": stroke,
        "litres": 0.785398 * (bore / 100) ** 2 * stroke / 100 * cylinders,
        "redline": 100 * rng.randint(56, 82),
        "electric": rng.random() < 0.25,
        "cooler": rng.random() < (0.65 if make != "none" else 0.0),
        "drive": rng.choice(["rear", "rear", "front", "all"]),
        "gearbox": rng.choice(["manual", "manual", "automatic"]),
        "mass": rng.random() < 0.5,
        "injectors": rng.random() < 0.4,
    }
    tables = {}
    if known["mass"]:
        tables["car"] = {"mass": "%d kg" % rng.randint(950, 2100)}
    engine = {"cylinders": cylinders, "redline": "%d rpm" % known["redline"]}
    engine["compression_ratio"] = doubt(rng, between(rng, 8.2, 9.8, 3) if make != "none" else between(rng, 9.5, 12.5, 3), "", 0.01)
    size(rng, known, engine)
    may(rng, engine, "inlet_valves", rng.choice([1, 2, 3]), 0.3)
    may(rng, engine, "rod_length", "%.4g mm" % (1.65 * stroke), 0.3)
    may(rng, engine, "inlet_valve_diameter", "%.3g mm" % (0.37 * bore), 0.2)
    may(rng, engine, "reference_flow", "%.3g g/s" % (1e3 * flow_kg_s(known)), 0.15)
    tables["engine"] = engine
    tables["fuel"] = fuel(rng)
    known["fuel"] = tables["fuel"]["kind"]
    tables["driveline"] = {"drive": known["drive"], "gearbox": known["gearbox"], "gear": between(rng, 0.95, 1.5, 4), "final_drive": between(rng, 3.2, 4.3, 4)}
    may(rng, tables["driveline"], "oil", rng.choice(["75W-80", "75W-85", "75W-90", "75W-140", "80W-90", "85W-140", "ATF"]), 0.4)
    tables["wheels"] = {"tyre_radius": doubt(rng, between(rng, 0.29, 0.345, 3), "m", 0.01)}
    tables["drums"] = drums(rng, known)
    thoroughness = rng.choice([0.0, 0.1, 0.3, 0.8])
    state(rng, tables, NUMBERS, thoroughness)
    if known["blower"]:
        tables["blower"] = blower(rng, known, folder)
        if make in ROTORS:
            # A maker's printed point already settles leak and efficiency.
            state(rng, tables, OF_BLOWER[2:] if "claims" in tables["blower"] else OF_BLOWER, thoroughness)
        else:
            state(rng, tables, OF_MAP, thoroughness)
        extra = OF_TURBO if make == "turbocharger" else OF_BELT + (OF_CENTRIFUGAL if make == "centrifugal" else ())
        state(rng, tables, extra, thoroughness)
    if known["cooler"]:
        tables["cooler"] = {"kind": rng.choice(["air to air", "air to water"])}
        state(rng, tables, OF_COOLER, max(thoroughness, 0.3))
    if known["electric"]:
        tables["electric_axle"] = axle(rng)
        state(rng, tables, OF_AXLE, thoroughness)
    if known["injectors"]:
        fuel_supply(rng, known, tables)
    if rng.random() < 0.3:
        tables["clutch"] = rng.choice(
            [
                {"capacity": doubt(rng, between(rng, 300, 900, 3), "N m", 0.1)},
                {"faces": 2, "friction": 0.3, "clamp": "9 kN", "outer_radius": "120 mm", "inner_radius": "78 mm"},
            ]
        )
    if known["gearbox"] == "automatic" and rng.random() < 0.5:
        tables["converter"] = {"stall_speed": "%d rpm" % rng.randint(1900, 2900), "stall_torque": doubt(rng, 260.0, "N m")}
        may(rng, tables["converter"], "torque_ratio", "2.1 ± 0.1", 0.4)
        may(rng, tables["converter"], "coupling", "0.88 ± 0.02", 0.4)
    if rng.random() < 0.25:
        tables["limits"] = {"exhaust_temperature": "950 °C", "peak_pressure": "110 bar", "piston_speed": "23 m/s", "tyre_speed": "240 km/h"}
    (folder / "car.toml").write_text(document("car", "car %03d" % number, tables), encoding="utf-8")
    return known
