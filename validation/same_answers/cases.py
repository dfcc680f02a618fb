"""The recorded validation cases as the files a shop would write: car, plan, visits.

The same conversion as `validation/cases/read.rs`, in file units. What that reader can say and a file cannot is left out: a
doubt on the filling loss of a blower to be fitted, the tyre of the electric axle, and the limit of 0.5 to 1.5 of a number on every
doubt. Numbers therefore come near those of the validation page but are not the same; here they only have to stay what they are.
"""

import json
import shutil

from toml_text import document

CLAIM, SIZE = 3, 0.5  # doubt on makers' claims and on sizes, per cent


def about(number, unit, per_cent):
    return "%r %s ± %r %%" % (number, unit, per_cent) if unit else "%r ± %r" % (number, number * per_cent / 100)


def read(path):
    return json.loads(path.read_text(encoding="utf-8"))


def map_points(table):
    points = table["points"]
    return {
        "wheel_diameter": "%r mm" % table["wheel_diameter_mm"],
        "reference_pressure": "%r kPa" % table["reference_pressure_kpa"],
        "reference_temperature": "%r °C" % table["reference_temperature_c"],
        "speed": ["%r rpm" % p["speed_rpm"] for p in points],
        "flow": ["%r kg/s" % p["corrected_flow_kgps"] for p in points],
        "pressure_ratio": [p["pressure_ratio"] for p in points],
        "efficiency": [p["efficiency"] for p in points],
    }


def claims(part):
    said = part["maker_claims"]
    return {
        "pressure_ratio": said["at_pressure_ratio"],
        "shaft_speed": "%r rpm" % said["at_rotor_rpm"],
        "volumetric_efficiency": about(said["volumetric_efficiency"], "", CLAIM),
        "isentropic_efficiency": about(said["isentropic_efficiency"], "", CLAIM),
    }


def rotors(part):
    return "screw" if part["style"] == "screw" else "twisted lobe"


def displacement(part):
    litres = part["displacement_l_per_rev"]
    return {
        "displacement": about(litres, "L/rev", SIZE),
        "drive_ratio": part["drive_ratio"],
        "built_in_volume_ratio": part["internal_pressure_ratio"] ** (1 / 1.4),
        "max_speed": "%r rpm" % (18000 * (2 / litres) ** (1 / 3)),
        "pulley_diameter": "80 mm",
        "claims": claims(part),
    }


def turbocharger(part):
    asked = part["boost_target_kpa_gauge"]
    return {
        "turbine_area": about(part["turbine_effective_area_mm2"], "mm2", CLAIM),
        "turbine_efficiency": about(part["turbine_efficiency_claim"], "", 2 * CLAIM),
        "boost_curve": {
            "speed": ["%r rpm" % rpm for rpm, _ in asked],
            "gauge": ["%r kPa gauge" % kpa for _, kpa in asked],
        },
        "map_points": map_points(part["compressor_map"]),
    }


def cooler(part):
    return {
        "effectiveness": "%r ± 0.04" % part["effectiveness"],
        "reference_flow": "%r kg/s" % part["at_flow_kgps"],
        "pressure_drop": about(part["pressure_drop_kpa"], "kPa", 10),
        "heat_capacity": about(part["core_heat_capacity_kj_per_k"], "kJ/K", 10),
    }


def sink(part):
    return "air to air" if part["kind"] == "air-to-air" else "air to water"


def blower(part):
    if part["part"] == "turbocharger":
        return {"kind": "turbocharger", **turbocharger(part)}
    machine = displacement(part)
    # A car file states the machine by its claims or by its numbers; the ratio follows from the claims' pressure ratio.
    return {"kind": rotors(part), **machine}


def car(name, case, mods):
    front = case["driven_wheels"] == "front"
    weight = case["mass_kg"] * 9.80665
    tables = {
        "car": {"mass": "%r kg" % case["mass_kg"]},
        "engine": {
            "cylinders": case["cylinders"],
            "inlet_valves": case["valves_per_cylinder"] // 2,
            "bore": "%r mm" % case["bore_mm"],
            "stroke": "%r mm" % case["stroke_mm"],
            "compression_ratio": case["compression_ratio"],
            "redline": "%r rpm" % case["redline_rpm"],
        },
        "fuel": {"kind": "petrol", "research_octane": case["fuel"]["ron"], "motor_octane": case["fuel"]["mon"]},
        "tune": {"lambda": case["lambda_target"]},
        "driveline": {
            "drive": "front" if front else "rear",
            "gearbox": "manual",
            "gear": case["gear_ratio"],
            "final_drive": case["final_drive"],
        },
        "wheels": {
            "tyre_radius": "%r m" % case["tyre_radius_m"],
            "inertia": about(2 * case["wheel_tyre_inertia_each_kgm2"], "kg m2", 5),
            "load": about((0.6 if front else 0.5) * weight, "N", 15),
        },
        "drums": {
            "coupling": "linked" if "linked" in case["driven_wheels"] else "single",
            "inertia": "%r kg m2" % case["dyno"]["drum_inertia_kgm2"],
            "radius": "%r m" % case["dyno"]["drum_radius_m"],
            "drag": "35 N",
            "air_drag": "35 N",
            "drag_added_back": False,
        },
    }
    back = mods.get("back_pressure_kpa_gauge_near_power_peak")
    if back:
        tables["exhaust"] = {"back_pressure": about(back["before_measured"], "kPa", 10)}
    if "induction_hardware" in case:
        tables["blower"] = blower(case["induction_hardware"])
    if "intercooler" in case:
        tables["cooler"] = {"kind": sink(case["intercooler"]), **cooler(case["intercooler"])}
    if "electric_axle" in case:
        axle = case["electric_axle"]
        tables["electric_axle"] = {
            "peak_power": about(axle["peak_power_kw"], "kW", CLAIM),
            "peak_torque": about(axle["peak_motor_torque_nm"], "N m", CLAIM),
            "reduction": axle["reduction_ratio"],
            "battery_energy": "%r kWh" % axle["battery_kwh"],
            "rated_power": "%r kW" % axle["peak_power_kw"],
            "rated_torque": "%r N m" % axle["peak_motor_torque_nm"],
            "load": about(0.5 * weight, "N", 15),
        }
    return document("car", name, tables)


def change(part, mods):
    """One piece of work, or nothing where the reader of the validation leaves it out too."""
    kind = part["type"]
    if kind == "add_blower" and part["part"] == "positive-displacement blower":
        return {"kind": "displacement blower", "rotors": rotors(part), **displacement(part)}
    if kind == "add_blower":
        return {
            "kind": "centrifugal blower",
            "drive_ratio": about(part["overall_drive_ratio"], "", SIZE),
            "gear_efficiency": "%r ± 0.01" % part["gear_efficiency_claim"],
            "tip_speed_limit": "530 m/s",
            "map_points": map_points(part["compressor_map"]),
        }
    if kind == "add_turbo":
        return {"kind": "turbocharger", "tip_speed_limit": "530 m/s", **turbocharger(part)}
    if kind in ("add_intercooler", "intercooler_change"):
        new = part.get("new", part)
        return {"kind": "charge cooler", "cooling": sink(new), **cooler(new)}
    if kind == "fuel_change":
        return {
            "kind": "fuel",
            "fuel": "petrol with ethanol",
            "ethanol": "82 %",
            "research_octane": about(107.0, "", 2),
            "motor_octane": about(90.0, "", 2),
        }
    if kind == "pulley_change":
        ratio = part["blower_pulley_mm_from"] / part["blower_pulley_mm_to"]
        return {"kind": "pulley", "ratio_factor": about(ratio, "", SIZE)}
    if kind == "intake_duct":
        return {"kind": "intake", "area_factor": "1.7 ± 0.17", "share": "0.8 ± 0.12"}
    if kind == "exhaust":
        back = mods.get("back_pressure_kpa_gauge_near_power_peak")
        factor = back["after_claimed"] / back["before_measured"] if back else 1 / 1.6**2
        return {"kind": "exhaust", "back_pressure_factor": about(factor, "", 15)}
    if kind == "retune":
        return {"kind": "mixture", "lambda": part["lambda_target"]}
    if kind == "compression_ratio":
        return {"kind": "compression ratio", "ratio": part["cr_to"]}
    if kind == "final_drive":
        return {"kind": "gearing", "final_drive": part["ratio_to"]}
    if kind == "wheels_tyres":
        return {
            "kind": "wheels",
            "inertia": about(2 * part["inertia_each_kgm2"][1], "kg m2", 5),
            "tyre_radius": "%r m" % part["tyre_radius_m"][1],
        }
    return None  # headers, another venue, nothing: the recorded answer is that of the rest


def visit(source, target, name, limit=None, entered=False):
    """Writes the visit `name` with its recordings. `entered` adds what was typed into the rig, for a diagnosis."""
    pulls, weather = [], None
    for table in sorted((source / name).glob("run*.csv"), key=lambda p: int(p.stem[3:]))[:limit]:
        head = read(table.with_suffix(".json"))
        shutil.copyfile(table, target / (name + "_" + table.name))
        air = head["weather"]
        day = {
            "temperature": "%r °C" % air["temperature_c"],
            "relative_humidity": "%r %%" % air["relative_humidity_pct"],
            "station_pressure": "%r kPa" % air["station_pressure_kpa"],
        }
        if entered and air.get("elevation_m") is not None:
            day["altitude"] = "%r m" % air["elevation_m"]
        pull = {"file": name + "_" + table.name, "manifold_pressure": "absolute"}
        if weather is None:
            weather = day
        elif day != weather:
            pull["weather"] = day
        if head.get("minutes_since_previous_run") is not None:
            pull["rest_before"] = "%r min" % head["minutes_since_previous_run"]
        if head.get("battery_state_of_charge_pct_start") is not None:
            pull["charge"] = "%r %%" % head["battery_state_of_charge_pct_start"]
        if entered:
            typed = head["dyno_settings"]
            computed = (head.get("engine_speed_source") or "").startswith("computed")
            pull["entered"] = {"engine_speed": "from drums" if computed else "measured"}
            if typed.get("drum_inertia_kgm2") is not None:
                pull["entered"]["drum_inertia"] = "%r kg m2" % typed["drum_inertia_kgm2"]
            if typed.get("gear_ratio") is not None:
                pull["entered"].update(gear=typed["gear_ratio"], final_drive=typed["final_drive"])
            if head.get("correction_standard") == "sae_j1349":
                pull["entered"]["correction"] = "sae-j1349"
        pulls.append(pull)
    (target / (name + ".toml")).write_text(document("visit", name, {"weather": weather, "pull": pulls}), encoding="utf-8")


def recorded(source, target):
    """One case of `recorded_pulls`. Returns whether it has planned work that a plan file can hold."""
    target.mkdir(parents=True)
    case, mods = read(source / "car.json"), read(source / "mods.json")
    work = [c for c in (change(part, mods) for part in mods["changes"]) if c]
    (target / "car.toml").write_text(car(source.name, case, mods), encoding="utf-8")
    if work:
        (target / "plan.toml").write_text(document("plan", mods["summary"], {"change": work}), encoding="utf-8")
    visit(source, target, "baseline")
    visit(source, target, "after")
    return bool(work)


def faulty(source, target):
    """One case of `faulty_pulls`."""
    target.mkdir(parents=True)
    (target / "car.toml").write_text(car(source.name, read(source / "car.json"), {}), encoding="utf-8")
    visit(source, target, "clean", entered=True)
    visit(source, target, "spoiled", entered=True)
