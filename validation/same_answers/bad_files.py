"""Files and command lines that must be refused: what is said of them, and the exit code, are answers too."""

import re

CAR = """kind = "car"
version = 1
name = "bad car"
[engine]
cylinders = 4
bore = "86 mm"
stroke = "86 mm"
compression_ratio = 10.5
redline = "7000 rpm"
[fuel]
research_octane = 95
[driveline]
gear = 1.36
final_drive = 3.9
[wheels]
tyre_radius = "0.31 m"
[drums]
inertia = "110 kg m2"
radius = "0.35 m"
"""
PLAN = 'kind = "plan"\nversion = 1\nname = "bad plan"\n'
TURBO = '[blower]\nkind = "turbocharger"\n'

# Name -> (pattern in the car, what stands there instead); an empty pattern appends.
CARS = {
    "unknown_key": ("", "\n[tune]\nlamda = 0.9\n"),
    "unknown_table": ("", '\n[motor]\ninertia = "0.1 kg m2"\n'),
    "out_of_range": (r"compression_ratio = .*", "compression_ratio = 31"),
    "below_range": (r'redline = .*', 'redline = "700 rpm"'),
    "wrong_unit": (r'bore = .*', 'bore = "86 kg"'),
    "no_unit": (r'bore = .*', "bore = 86"),
    "no_number": (r'bore = .*', 'bore = "wide"'),
    "missing": (r'redline = .*\n', ""),
    "wrong_version": (r"version = 1", "version = 2"),
    "wrong_kind": (r'kind = "car"', 'kind = "cart"'),
    "no_kind": (r'kind = "car"\n', ""),
    "not_toml": (r"\[fuel\]", "[fuel"),
    "twice": (r"cylinders = 4", "cylinders = 4\ncylinders = 6"),
    "fraction": (r"cylinders = 4", "cylinders = 4.5"),
    "negative_doubt": (r"compression_ratio = .*", 'compression_ratio = "10.5 ± -0.1"'),
    "wide_doubt": (r'inertia = "110 kg m2"', 'inertia = "110 ± 150 kg m2"'),
    "sizes_disagree": (r'bore = .*', 'bore = "86 mm"\ndisplacement = "3.0 L"'),
    "gauge_for_absolute": ("", TURBO + 'boost_absolute = "60 kPa gauge"\n'),
    "no_map": ("", TURBO + 'boost = "60 kPa gauge"\n'),
    "map_missing": ("", TURBO + 'boost = "60 kPa gauge"\nmap = "none.csv"\n'),
    "unknown_blower": ("", '[blower]\nkind = "piston"\n'),
    "converter_of_a_manual": ("", '[converter]\nstall_speed = "2300 rpm"\nstall_torque = "250 N m"\n'),
    "second_drum_of_one": (r'radius = "0.35 m"', 'radius = "0.35 m"\nsecond_inertia = "100 kg m2"'),
    "two_brakes": (r'radius = "0.35 m"', 'radius = "0.35 m"\nsweep_time = "12 s"\nramp_per_second = "300 rpm"'),
    "many": (r'bore = .*\nstroke = .*', 'bore = "8 m"\nstroke = "4 kPa"\nbour = 3'),
}
PLANS = {
    "empty": "",
    "unknown_kind": '[[change]]\nkind = "turbo charger"\n',
    "no_kind": '[[change]]\nlambda = 0.85\n',
    "missing": '[[change]]\nkind = "throttle"\nbore_from = "60 mm"\n',
    "out_of_range": '[[change]]\nkind = "mixture"\nlambda = 2.5\n',
    "no_blower": '[[change]]\nkind = "pulley"\nratio_factor = 1.1\n',
    "no_turbo": '[[change]]\nkind = "boost"\nboost_factor = 1.1\n',
    "no_axle": '[[change]]\nkind = "electric axle"\nshare = 0.5\n',
    "no_cooler": '[[change]]\nkind = "remove charge cooler"\n',
    "no_mass": '[[change]]\nkind = "mass"\nadded = "-50 kg"\n',
    "manual_converter": '[[change]]\nkind = "converter"\nlocked = true\n',
    "both": '[[change]]\nkind = "spark"\nretard = "2 deg"\nto_limit = true\n',
    "two_fuels": '[[change]]\nkind = "octane"\nresearch_octane = 98\n[[change]]\nkind = "octane"\nresearch_octane = 92\n',
    "unknown_key": '[[change]]\nkind = "redline"\nspeed = "7200 rpm"\nrpm = 7200\n',
}
RECORDING = "time (s),engine speed (rpm),wheel power (kW)\n" + "".join(
    "%.2f,%d,%.2f\n" % (0.1 * i, 2500 + 40 * i, 25 + 0.55 * i) for i in range(100)
)
WEATHER = '[weather]\ntemperature = "20 °C"\nrelative_humidity = "50 %"\nstation_pressure = "990 hPa"\n'
RECORDINGS = {
    "sound": RECORDING,
    "text_in_row": RECORDING.replace("2.00,3300", "2.00,fast"),
    "power_too_high": RECORDING.replace(",36.00", ",9000"),
    "ambiguous_unit": RECORDING.replace("wheel power (kW)", "wheel power"),
    "no_power": RECORDING.replace("wheel power (kW)", "wheel noise (kW)"),
    "no_time": RECORDING.replace("time (s)", "tide (s)"),
    "short": "\n".join(RECORDING.split("\n")[:4]) + "\n",
    "empty": "",
}
DAYS = {
    "two_humidities": 'temperature = "20 °C"\nrelative_humidity = "50 %"\ndew_point = "9 °C"\nstation_pressure = "990 hPa"\n',
    "no_pressure": 'temperature = "20 °C"\nrelative_humidity = "50 %"\n',
    "no_altitude": 'temperature = "20 °C"\nrelative_humidity = "50 %"\nsea_level_pressure = "1013 hPa"\n',
    "dew_above_air": 'temperature = "20 °C"\ndew_point = "25 °C"\nstation_pressure = "990 hPa"\n',
    "pressure_too_low": 'temperature = "20 °C"\nrelative_humidity = "50 %"\nstation_pressure = "99 hPa"\n',
}
LINES = {
    "nothing": [],
    "no_such_verb": ["forecast"],
    "help": ["--help"],
    "version": ["--version"],
    "no_car": ["predict"],
    "missing_file": ["predict", "none.toml"],
    "bad_standard": ["predict", "in/bad/car.toml", "--standard", "sae"],
    "bad_charge": ["predict", "in/bad/car.toml", "--charge", "140 %"],
    "bad_pulls": ["predict", "in/bad/car.toml", "--pulls", "1"],
    "rest_without_pulls": ["predict", "in/bad/car.toml", "--rest", "2 min"],
    "no_rpm": ["trace", "in/bad/car.toml"],
    "rpm_too_low": ["trace", "in/bad/car.toml", "--rpm", "20"],
    "few_draws": ["quote", "in/bad/car.toml", "in/bad/plan.toml", "--draws", "1"],
    "reach_without_by": ["quote", "in/bad/car.toml", "in/bad/plan.toml", "--reach", "100 kW"],
    "reach_no_unit": ["quote", "in/bad/car.toml", "in/bad/plan.toml", "--reach", "100", "--by", "octane"],
    "efficiency_missing": ["predict", "in/bad/car.toml", "--standard", "sae-j1349-stated-efficiency"],
    "plan_for_car": ["predict", "in/bad/plan.toml"],
    "car_for_visit": ["fit", "in/bad/car.toml", "in/bad/car.toml"],
}


def spoil(rng, folder):
    """Makes one of a car's numbers, or one of its keys, wrong."""
    path = folder / "car.toml"
    text = path.read_text(encoding="utf-8")
    pattern, instead = rng.choice(
        [
            (r"compression_ratio = .*", "compression_ratio = 42"),
            (r"final_drive = .*", 'final_drive = "3.9 kg"'),
            (r"tyre_radius = .*", 'tyre_radius = "0.31 bar"'),
            (r"redline = .*", 'redline = "seven thousand"'),
            (r"gear = .*", "geer = 1.2"),
            (r'gearbox = .*', 'gearbox = "robot"'),
            (r"cylinders = .*", ""),
            (r"\[drums\]", "[drum]"),
        ]
    )
    path.write_text(re.sub(pattern, instead, text, count=1), encoding="utf-8")


def commands(into, inputs):
    folder = inputs / "bad"
    folder.mkdir()
    (folder / "car.toml").write_text(CAR, encoding="utf-8")
    (folder / "plan.toml").write_text(PLAN + '[[change]]\nkind = "mixture"\nlambda = 0.85\n', encoding="utf-8")
    for name, (pattern, instead) in CARS.items():
        text = re.sub(pattern, lambda _: instead, CAR, count=1) if pattern else CAR + instead
        if text == CAR:
            raise ValueError("nothing is wrong with the car " + name)
        (folder / ("car_%s.toml" % name)).write_text(text, encoding="utf-8")
        into.add("bad." + name, "predict in/bad/car_%s.toml" % name)
    for name, text in PLANS.items():
        (folder / ("plan_%s.toml" % name)).write_text(PLAN + text, encoding="utf-8")
        into.add("bad.plan." + name, "predict in/bad/car.toml --plan in/bad/plan_%s.toml" % name)
    for name, text in RECORDINGS.items():
        (folder / (name + ".csv")).write_text(text, encoding="utf-8")
        visit = 'kind = "visit"\nversion = 1\nname = "bad visit"\n%s[[pull]]\nfile = "%s.csv"\n' % (WEATHER, name)
        (folder / ("visit_%s.toml" % name)).write_text(visit, encoding="utf-8")
        into.add("bad.visit." + name, "fit in/bad/car.toml in/bad/visit_%s.toml" % name)
    for name, text in DAYS.items():
        (folder / ("day_%s.toml" % name)).write_text('kind = "weather"\nversion = 1\nname = "bad day"\n' + text, encoding="utf-8")
        into.add("bad." + name, "correct in/bad/day_%s.toml" % name)
    for name, line in LINES.items():
        into.add("bad.line." + name, line)
