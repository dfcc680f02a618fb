"""Random planned work: every kind of change, each with its keys, in turn so that none is forgotten."""

from toml_text import document


def doubt(rng, number, unit="", relative=0.03):
    """A number as text, exact or in one of the forms of doubt."""
    unit = " " + unit if unit else ""
    form = rng.randrange(5) if number > 0 else 0
    spread = float("%.3g" % abs(number * relative))
    if form == 1:
        return "%r%s ± %r%s" % (number, unit, spread, unit)
    if form == 2:
        return "%r +- %r%s" % (number, spread, unit)
    if form == 3:
        return "%.6g .. %.6g%s" % (number - 1.645 * spread, number + 1.645 * spread, unit)
    if form == 4:
        return "%r%s */ %.4f" % (number, unit, 1 + relative)
    return "%r%s" % (number, unit) if unit else number


def between(rng, low, high, digits=4):
    return float("%.*g" % (digits, rng.uniform(low, high)))


def may(rng, table, key, value, chance=0.5):
    if rng.random() < chance:
        table[key] = value


def claims(rng):
    return {
        "pressure_ratio": between(rng, 1.4, 1.8, 3),
        "shaft_speed": "%r rpm" % between(rng, 8000, 12000),
        "volumetric_efficiency": "%r %%" % between(rng, 86, 94, 3),
        "isentropic_efficiency": doubt(rng, between(rng, 0.60, 0.72, 3)),
    }


# Highest shaft speed by kind of rotors, rpm, and by how much a rotor compresses inside.
ROTORS = {"roots": 12000, "twisted lobe": 14000, "high helix": 20000, "screw": 24000}


def displacement(rng, car, rotors):
    """A machine that passes 1.2 to 1.7 times what the engine takes in, within its speed."""
    top = ROTORS[rotors] * between(rng, 0.75, 0.95)
    ratio = float("%.4g" % (top / car["redline"]))
    per_turn = car["litres"] / 2 * between(rng, 1.2, 1.7) / ratio
    part = {
        "displacement": doubt(rng, float("%.4g" % per_turn), "L/rev", 0.005),
        "drive_ratio": doubt(rng, ratio, "", 0.005),
    }
    may(rng, part, "max_speed", "%d rpm" % ROTORS[rotors])
    may(rng, part, "pulley_diameter", "%r mm" % between(rng, 65, 95, 3))
    if rotors == "screw":
        may(rng, part, "built_in_volume_ratio", between(rng, 1.15, 1.45, 3))
    if rng.random() < 0.4:
        part["claims"] = claims(rng)
    return part


def flow_kg_s(car):
    """Air of the engine unboosted at its redline, about."""
    return car["litres"] * car["redline"] / 120 * 1.0e-3


def rated_point(rng, flow):
    ratio = between(rng, 1.7, 2.1, 3)
    wheel_mm = 53 * (flow / 0.15) ** 0.5
    rpm = 330e3 / (3.14159 * wheel_mm) * 60
    return {
        "pressure_ratio": ratio,
        "flow": "%.4g g/s" % (1e3 * flow),
        "efficiency": between(rng, 0.70, 0.78, 3),
        "speed": "%.5g rpm" % rpm,
        "wheel_diameter": "%.4g mm" % wheel_mm,
        "reference_pressure": "100 kPa",
        "reference_temperature": "25 °C",
    }


def map_rows(rng, flow):
    """Four speed lines of a compressor: speed rpm, flow kg/s, pressure ratio, efficiency; and the wheel's diameter, mm."""
    wheel_mm = 53 * (flow / 0.15) ** 0.5
    top_rpm, top_ratio = 380e3 / (3.14159 * wheel_mm) * 60, between(rng, 2.3, 2.7, 3)
    best = between(rng, 0.74, 0.79, 3)
    rows = []
    for share in (0.45, 0.62, 0.8, 1.0):
        head = (top_ratio - 1) * share**2
        for step in range(6):
            x = step / 5
            rows.append(
                (
                    float("%.5g" % (top_rpm * share)),
                    float("%.4g" % (1.25 * flow * share**1.2 * (0.5 + 0.5 * x))),
                    float("%.4g" % (1 + head * (1 - 0.45 * x**2.5))),
                    float("%.3g" % (best - 0.32 * (x - 0.45) ** 2 - 0.25 * (share - 0.75) ** 2)),
                )
            )
    return rows, wheel_mm


def compressor(rng, flow, folder, name):
    """A map in one of its three forms."""
    form = rng.randrange(3)
    if form == 0:
        return {"rated_point": rated_point(rng, flow)}
    rows, wheel_mm = map_rows(rng, flow)
    if form == 1:
        lines = ["# wheel diameter: %.4g mm" % wheel_mm, "# reference pressure: 100 kPa", "# reference temperature: 25 °C"]
        lines.append("corrected flow (kg/s), pressure ratio, efficiency, speed (rpm)")
        lines += ["%r, %r, %r, %r" % (q, p, e, n) for n, q, p, e in rows]
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
        return {"map": name}
    return {
        "map_points": {
            "wheel_diameter": "%.4g mm" % wheel_mm,
            "reference_pressure": "100 kPa",
            "reference_temperature": "25 °C",
            "speed": ["%r rpm" % n for n, _, _, _ in rows],
            "flow": ["%r kg/s" % q for _, q, _, _ in rows],
            "pressure_ratio": [p for _, _, p, _ in rows],
            "efficiency": [e for _, _, _, e in rows],
        }
    }


def turbine_points(rng, area_mm2):
    """Points of a nozzle of this area at 101.325 kPa and 15 °C (St Venant, choked past 1.89), with a little scatter."""
    ratios, flows, efficiencies = [1.25, 1.4, 1.6, 1.9, 2.3], [], []
    for ratio in ratios:
        r = max(1 / ratio, 0.528)
        speed = (2 * 3.5 / (287 * 288.15) * (r ** (2 / 1.4) - r ** (2.4 / 1.4))) ** 0.5
        flows.append("%.4g g/s" % (1e3 * area_mm2 * 1e-6 * 101325 * speed * rng.uniform(0.98, 1.02)))
        efficiencies.append(between(rng, 0.62, 0.69, 3))
    table = {
        "reference_pressure": "101.325 kPa",
        "reference_temperature": "15 °C",
        "flow": flows,
        "expansion_ratio": ratios,
        "efficiency": efficiencies,
    }
    may(rng, table, "bearings", rng.choice(["in the efficiency", "not in the efficiency"]))
    may(rng, table, "test_gas", rng.choice(["air", "exhaust"]), 0.4)
    return table


def boost(rng, car, most_kpa=90):
    """A boost in one of its forms."""
    kpa = between(rng, 30, most_kpa, 3)
    form = rng.randrange(4)
    if form == 0:
        return {"boost": "%r kPa gauge" % kpa}
    if form == 1:
        return {"boost_absolute": "%r kPa abs" % (100 + kpa)}
    speeds = ["2000 rpm", "%d rpm" % (0.7 * car["redline"]), "%d rpm" % car["redline"]]
    if form == 2:
        return {"boost_curve": {"speed": speeds, "gauge": ["%r kPa gauge" % kpa] * 2 + ["%.4g kPa gauge" % (0.85 * kpa)]}}
    return {"boost_curve": {"speed": speeds, "absolute": ["%r kPa abs" % (100 + kpa)] * 2 + ["%.5g kPa abs" % (100 + 0.85 * kpa)]}}


def turbocharger(rng, car, folder, name):
    count = rng.choice([1, 1, 2])
    flow = flow_kg_s(car) * 1.35 / count
    part = {**boost(rng, car), **compressor(rng, flow, folder, name)}
    if count > 1:
        part["count"] = count
    area = float("%.4g" % (4200 * flow / 1.35))
    form = rng.randrange(3)
    if form == 1:
        part["turbine_area"] = doubt(rng, area, "mm2")
        may(rng, part, "turbine_efficiency", doubt(rng, between(rng, 0.62, 0.7, 3)))
    elif form == 2:
        part["turbine_map_points"] = turbine_points(rng, area)
    return part


def blends(rng):
    return rng.choice(
        [
            {"fuel": "petrol", "research_octane": doubt(rng, between(rng, 95, 102, 3), "", 0.003)},
            {"fuel": "petrol with ethanol", "ethanol": "%d %%" % rng.choice([10, 30, 82]), "research_octane": between(rng, 98, 106, 4)},
            {"fuel": "ethanol"},
            {"fuel": "methanol"},
        ]
    )


def camshaft(rng, car):
    part = {"duration_change": "%r deg" % between(rng, -6, 20, 3)}
    rng.choice(
        [
            lambda: None,
            lambda: part.update(closing_change="%r deg" % between(rng, -4, 12, 3)),
            lambda: part.update(centre_change="%r deg" % between(rng, -5, 5, 3)),
        ]
    )()
    may(rng, part, "exhaust_duration_change", "%r deg" % between(rng, -5, 15, 3))
    may(rng, part, "exhaust_centre_change", "%r deg" % between(rng, -4, 4, 3))
    if rng.random() < 0.5:
        part.update(lift_from="9.5 mm", lift_to="%r mm" % between(rng, 9.0, 11.5, 3))
    return part


def bore_and_stroke(rng, car):
    part = {"bore": "%.5g mm" % (car["bore"] * rng.uniform(1.005, 1.03))}
    may(rng, part, "stroke", "%.5g mm" % (car["stroke"] * rng.uniform(0.98, 1.05)))
    may(rng, part, "rod_length", "%.5g mm" % (car["stroke"] * 1.7))
    may(rng, part, "compression_ratio", doubt(rng, between(rng, 9, 11, 3), "", 0.01))
    return part


def some(rng, parts):
    """A random choice of at least one of the keys."""
    keys = rng.sample(sorted(parts), rng.randint(1, len(parts)))
    return {key: parts[key] for key in keys}


def either(rng, *parts):
    return rng.choice(parts)


# Kind of change -> (which cars can have it, its keys).
def always(car):
    return True


def has_blower(car):
    return car["blower"] is not None


def has_belt(car):
    return car["blower"] not in (None, "turbocharger")


def has_turbo(car):
    return car["blower"] == "turbocharger"


KINDS = {
    "displacement blower": (lambda c: not has_blower(c), lambda r, c, d: {"rotors": (k := r.choice(list(ROTORS))), **displacement(r, c, k)}),
    "centrifugal blower": (
        lambda c: not has_blower(c),
        lambda r, c, d: {
            **compressor(r, 1.4 * flow_kg_s(c), d, "plan_map.csv"),
            "drive_ratio": doubt(r, float("%.4g" % (330e3 / (3.14159 * 53 * (1.4 * flow_kg_s(c) / 0.15) ** 0.5) * 60 / c["redline"])), "", 0.005),
            **either(r, {}, {"gear_efficiency": "0.96 ± 0.01"}, {"tip_speed_limit": "520 m/s"}, {"pulley_diameter": "85 mm"}),
        },
    ),
    "turbocharger": (lambda c: not has_blower(c), lambda r, c, d: turbocharger(r, c, d, "plan_map.csv")),
    "boost": (has_turbo, lambda r, c, d: either(r, {"boost_factor": doubt(r, between(r, 0.85, 1.25, 3))}, boost(r, c))),
    "remove blower": (has_blower, lambda r, c, d: {}),
    "pulley": (has_belt, lambda r, c, d: either(r, {"ratio_factor": between(r, 0.9, 1.12, 3)}, {"blower_pulley_from": "82 mm", "blower_pulley_to": "%r mm" % between(r, 74, 86, 3)})),
    "charge cooler": (
        always,
        lambda r, c, d: {
            "cooling": r.choice(["air to air", "air to water"]),
            "effectiveness": doubt(r, between(r, 0.6, 0.82, 3)),
            "reference_flow": "%.4g g/s" % (1200 * flow_kg_s(c)),
            "pressure_drop": doubt(r, between(r, 3, 9, 3), "kPa", 0.1),
            **either(r, {}, {"heat_capacity": "12 kJ/K"}, {"rejection": "180 W/K */ 1.5"}),
        },
    ),
    "remove charge cooler": (lambda c: c["cooler"], lambda r, c, d: {}),
    "intake": (always, lambda r, c, d: {"area_factor": doubt(r, between(r, 0.9, 1.7, 3), "", 0.1), **either(r, {}, {"share": "0.6 ± 0.1"})}),
    "throttle": (always, lambda r, c, d: {"bore_from": "65 mm", "bore_to": "%r mm" % between(r, 60, 76, 3)}),
    "headers": (
        lambda c: not has_turbo(c),
        lambda r, c, d: {
            **either(r, {"area_factor": between(r, 1.05, 1.5, 3)}, {"primary_from": "38 mm", "primary_to": "%r mm" % between(r, 39, 45, 3)}),
            **either(r, {}, {"share": "0.4 ± 0.1"}, {"scavenging": "12 ± 4 kPa"}),
        },
    ),
    "exhaust": (always, lambda r, c, d: either(r, {"back_pressure_factor": doubt(r, between(r, 0.4, 1.1, 3), "", 0.1)}, {"back_pressure_before": "34 kPa", "back_pressure_after": "%r kPa" % between(r, 15, 32, 3)})),
    "camshaft": (always, lambda r, c, d: camshaft(r, c)),
    "cylinder head": (always, lambda r, c, d: some(r, {"flow_factor": doubt(r, between(r, 1.02, 1.15, 3)), "inlet_valve_diameter": "%.4g mm" % (0.39 * c["bore"])})),
    "bore and stroke": (always, lambda r, c, d: bore_and_stroke(r, c)),
    "compression ratio": (always, lambda r, c, d: {"ratio": doubt(r, between(r, 9, 12, 3), "", 0.01)}),
    "fuel": (always, lambda r, c, d: blends(r)),
    "tank mix": (always, lambda r, c, d: {"left": "15 L", "added": "%r L" % between(r, 5, 45, 3), **blends(r)}),
    "octane": (lambda c: c["fuel"].startswith("petrol"), lambda r, c, d: {"research_octane": doubt(r, between(r, 92, 102, 3), "", 0.003), **either(r, {}, {"motor_octane": 88})}),
    "mixture": (always, lambda r, c, d: {"lambda": between(r, 0.78, 0.95, 3)}),
    "spark": (always, lambda r, c, d: either(r, {"to_limit": True}, {"retard": "%r deg" % between(r, 1, 6, 2)})),
    "water-methanol": (
        always,
        lambda r, c, d: {
            **either(r, {"share_of_fuel": doubt(r, between(r, 0.08, 0.25, 3), "", 0.1)}, {"flow": "%d cm3/min" % r.randint(200, 700)}),
            "methanol": "%d %%" % r.choice([0, 33, 50, 100]),
            **either(r, {}, {"evaporated": "0.6 ± 0.1"}),
        },
    ),
    "nitrous": (always, lambda r, c, d: {"flow": "%r kg/min" % between(r, 0.5, 1.6, 3), **either(r, {}, {"bottle_temperature": "20 ± 4 °C"}, {"evaporated": "0.85 ± 0.05"}, {"from_speed": "3600 rpm"})}),
    "redline": (always, lambda r, c, d: {"speed": "%d rpm" % (c["redline"] + r.choice([-300, 200, 400]))}),
    "gearing": (always, lambda r, c, d: some(r, {"gear": between(r, 0.9, 1.5, 3), "final_drive": doubt(r, between(r, 3.3, 4.3, 3), "", 0.005)})),
    "wheels": (always, lambda r, c, d: {"inertia": doubt(r, between(r, 2.0, 4.0, 3), "kg m2", 0.05), **either(r, {}, {"tyre_radius": "0.32 m"})}),
    "electric axle": (lambda c: c["electric"], lambda r, c, d: some(r, {"share": between(r, 0, 1, 2), "peak_power": "%r kW" % between(r, 60, 110, 3)})),
    "injectors": (
        always,
        lambda r, c, d: {
            "flow": either(r, "%d cm3/min" % r.randint(300, 1100), "%d lb/h" % r.randint(30, 90), "%d g/min" % r.randint(220, 700)),
            **either(r, {}, {"rated_pressure": "300 kPa"}, {"dead_time": "0.9 ± 0.2 ms", "duty_limit": "0.9 ± 0.03"}, {"count": c["cylinders"]}),
        },
    ),
    "fuel pump": (always, lambda r, c, d: {"flow": "%d L/h" % r.randint(140, 420), **either(r, {}, {"rated_pressure": "400 kPa"}, {"fall": "0.12 ± 0.04"})}),
    "fuel rail": (lambda c: c["injectors"], lambda r, c, d: some(r, {"pressure": "%d kPa" % r.randint(280, 450), "reference": r.choice(["manifold", "outside"])})),
    "flywheel": (always, lambda r, c, d: {"inertia_before": "0.11 kg m2", "inertia_after": "%r kg m2" % between(r, 0.05, 0.1, 2)}),
    "turning parts": (
        always,
        lambda r, c, d: either(
            r,
            {"at": "crank", "inertia_before": "0.05 kg m2", "inertia_after": "0.04 kg m2"},
            {"at": "gearbox input", "inertia_before": "0.01 kg m2", "inertia_after": "0.008 kg m2"},
            {"at": "shaft", "inertia_before": "0.02 kg m2", "inertia_after": "0.014 kg m2"},
            {"at": "wheels", "inertia_before": "1.4 kg m2", "inertia_after": "1.1 kg m2"},
        ),
    ),
    "driveline oil": (always, lambda r, c, d: some(r, {"oil": r.choice(["75W-80", "75W-85", "75W-140", "80W-90", "85W-140", "ATF"]), "temperature": "%d °C" % r.randint(50, 110)})),
    "clutch": (
        always,
        lambda r, c, d: either(
            r,
            {"capacity": doubt(r, between(r, 200, 900, 3), "N m", 0.1)},
            {"faces": 2, "friction": 0.3, "clamp": "%d kN" % r.randint(5, 12), "outer_radius": "120 mm", "inner_radius": "78 mm"},
        ),
    ),
    "converter": (
        lambda c: c["gearbox"] == "automatic",
        lambda r, c, d: either(r, {"locked": True}, {"stall_speed": "%d rpm" % r.randint(2000, 3200), "stall_torque": "280 N m", **either(r, {}, {"torque_ratio": "2.1 ± 0.1"}, {"coupling": "0.88 ± 0.02"})}),
    ),
    "belt": (has_belt, lambda r, c, d: either(r, {"ribs_from": 6, "ribs_to": 8}, {"tension": "3600 N"}, {"wrap": "%d deg" % r.randint(140, 200)}, {"friction": doubt(r, 1.1, "", 0.1), "wrap": "165 deg"})),
    "battery": (lambda c: c["electric"], lambda r, c, d: some(r, {"resistance": "0.08 ohm", "energy": "9 kWh", "voltage": "360 V", "power": "95 kW"})),
    "tyres": (always, lambda r, c, d: some(r, {"tyre_radius": "0.315 m", "grip": between(r, 0.9, 1.3, 3), "rolling_coefficient": between(r, 0.009, 0.014, 3), "speed_rating": "270 km/h"})),
    "mass": (lambda c: c["mass"], lambda r, c, d: {"added": "%d kg" % r.choice([-90, -40, 60]), **either(r, {}, {"share": "0.6 ± 0.05"})}),
}


CHARGING = {"displacement blower", "centrifugal blower", "turbocharger", "remove blower"}


class Rota:
    """Hands out kinds of change so that those used least come first."""

    def __init__(self, rng):
        self.rng = rng
        self.used = dict.fromkeys(KINDS, 0)

    def plan(self, car, folder, name):
        fits = [kind for kind in KINDS if KINDS[kind][0](car)]
        chosen = []
        for _ in range(self.rng.choice([1, 2, 2, 3, 4])):
            left = [k for k in fits if k not in chosen]
            least = min(self.used[k] for k in left)
            kind = self.rng.choice([k for k in left if self.used[k] <= least + 1])
            # One way to charge the engine is enough for a plan.
            if len({kind, *chosen} & CHARGING) < 2:
                chosen.append(kind)
                self.used[kind] += 1
        work = [{"kind": kind, **KINDS[kind][1](self.rng, car, folder)} for kind in chosen]
        (folder / "plan.toml").write_text(document("plan", name, {"change": work}), encoding="utf-8")
