#!/usr/bin/env python3
"""Writes the inputs of the recording, and `commands.json` with what to run on them.

    python3 validation/same_answers/inputs.py INPUTS_DIR

Two binaries are recorded over one such folder, so that both read the same files. The seed is fixed; the folder must not exist yet.
"""

import json
import pathlib
import random
import shutil
import sys

import bad_files
import cars
import cases
from plans import Rota
from toml_text import document

ROOT = pathlib.Path(__file__).resolve().parents[2]
SEED = 20240229
CARS = 300
DIALS = ("pulley", "boost", "drive-ratio", "octane", "ethanol", "compression-ratio", "intake", "exhaust", "mixture", "redline", "gear", "final-drive")
# Plan -> power asked for and the numbers turned to reach it: each at least once where it is an answer, and some where it is refused.
REACHED = {
    "coupe.breathing": ("62 kW", DIALS),
    "coupe.engine": ("95 kW", ("boost",)),
    "estate.screw": ("190 kW", ("pulley", "drive-ratio", "boost")),
    "estate.sprays": ("240 kW", ("pulley",)),
}
STANDARDS = (
    "none", "sae-j1349", "sae-j1349-stated-efficiency", "60degF-29.92inHg-dry", "60degF-29.92inHg-dry-efficiency-0.85",
    "85degF-29.00inHg-dry", "iso-1585", "iso-1585-compression-ignition-unboosted", "iso-1585-compression-ignition-turbo",
    "iso-15550-compression-ignition-unboosted", "iso-15550-compression-ignition-turbo-air-cooled",
    "iso-15550-compression-ignition-turbo-coolant-cooled", "din-70020", "eec-80-1269", "eec-80-1269-amended-88-195", "jis-d-1001",
)
# Cases that are fitted, and those in which a spoiled pull is diagnosed: one of every way of charging.
FITTED = ("headers_na_v8", "pulley_pd_v8", "hybrid_v8_blower", "altitude_turbo_i4")
DIAGNOSED = ("fault_01", "fault_04", "fault_09", "fault_10", "fault_12")


class Commands:
    """Chains of commands; each command is one document, named after its verb first."""

    def __init__(self):
        self.chains = []
        self.names = set()

    def step(self, name, line, files=()):
        args = line if isinstance(line, list) else line.split()
        verb = args[0] if args and not args[0].startswith("-") else "line"
        full = "%s.%s" % (verb, name)
        if full in self.names:
            raise ValueError("two documents are named " + full)
        self.names.add(full)
        return {"id": full, "args": args + ["--json"], "files": list(files)}

    def add(self, name, line, files=()):
        self.chains.append([self.step(name, line, files)])

    def chain(self, *steps):
        self.chains.append([self.step(*s) for s in steps])


def weathers(folder):
    """Readings of the air in every form."""
    folder.mkdir()
    days = {
        "humid": {"temperature": "31 °C", "relative_humidity": "85 %", "station_pressure": "1002 hPa"},
        "sea_level": {"temperature": "68 °F", "dew_point": "9 °C", "sea_level_pressure": "1021 hPa", "altitude": "430 m"},
        "airfield": {"temperature": "-4 °C", "wet_bulb": "-5 °C", "altimeter": "30.05 inHg", "altitude": "2600 ft"},
        "odd_altitude": {"temperature": "20 °C", "relative_humidity": "40 %", "station_pressure": "1013 hPa", "altitude": "1500 m"},
        "no_humidity": {"temperature": "20 °C", "station_pressure": "990 hPa"},
    }
    for name, day in days.items():
        (folder / (name + ".toml")).write_text(document("weather", name, day), encoding="utf-8")
    return sorted(days)


def scenario_commands(commands, days):
    estate, coupe, turbo, drum = ("in/scenarios/" + n for n in ("upland_estate", "manual_coupe", "turbo_four", "drum_session"))
    cold = estate + "/after_day.toml"
    plans = {
        "estate.screw": (estate, "plan_screw_blower"), "estate.sprays": (estate, "plan_sprays"),
        "coupe.breathing": (coupe, "plan_breathing"), "coupe.engine": (coupe, "plan_engine"),
    }
    for name, folder in (("estate", estate), ("coupe", coupe), ("turbo", turbo)):
        car = folder + "/car.toml"
        commands.add(name, "predict %s --csv curve.csv" % car, ["curve.csv"])
        commands.add(name + ".cold", "predict %s --weather %s" % (car, cold))
        commands.add(name + ".pulls", ["predict", car, "--pulls", "5", "--rest", "90 s"])
        commands.add(name + ".pulls_within", ["predict", car, "--pulls", "3", "--rest", "4 min", "--within", "0.5 %", "--weather", cold])
        for standard in STANDARDS:
            more = " --mechanical-efficiency 0.87" if standard == "sae-j1349-stated-efficiency" else ""
            commands.add("%s.%s" % (name, standard), "predict %s --standard %s --weather %s%s" % (car, standard, cold, more))
        for rpm in (1800, 2500, 3300, 4100, 5000, 5900, 6400, 9000):
            commands.add("%s.%d" % (name, rpm), "trace %s --rpm %d" % (car, rpm))
        commands.add(name + ".cold", "trace %s --rpm 4500 --weather %s" % (car, cold))
        for day in days:
            commands.add("%s.%s" % (name, day), "predict %s --weather in/weather/%s.toml" % (car, day))
    for option in ("--electric-axle off", "--charge 20%", "--charge 95%", "--electric-axle off --plan %s/plan_screw_blower.toml" % estate):
        name = "estate." + option.split("--plan")[0].strip(" -").replace(" ", "_").replace("%", "") + ("_plan" if "--plan" in option else "")
        commands.add(name, "predict %s/car.toml %s" % (estate, option))
        commands.add(name, "trace %s/car.toml --rpm 4000 %s" % (estate, option))
    for name, (folder, plan) in plans.items():
        car, plan = folder + "/car.toml", "%s/%s.toml" % (folder, plan)
        commands.add(name, "predict %s --plan %s --csv curve.csv" % (car, plan), ["curve.csv"])
        commands.add(name + ".pulls", ["predict", car, "--plan", plan, "--pulls", "4", "--rest", "2 min", "--weather", cold])
        for rpm in (2200, 3600, 5200, 6300):
            commands.add("%s.%d" % (name, rpm), "trace %s --plan %s --rpm %d" % (car, plan, rpm))
        commands.add(name, "quote %s %s --draws 120" % (car, plan))
        commands.add(name + ".cold", "quote %s %s --draws 60 --seed 7 --weather %s --standard din-70020" % (car, plan, cold))
        commands.add(
            name + ".visit",
            "quote %s %s --draws 60 --visit %s/baseline.toml --weather %s --out fitted.toml" % (car, plan, folder, cold),
            ["fitted.toml"],
        )
        commands.add(name + ".visit_own_weather", "quote %s %s --draws 60 --visit %s/baseline.toml" % (car, plan, folder))
        for dial in REACHED[name][1]:
            commands.add("%s.reach_%s.%s" % (name, REACHED[name][0].replace(" ", ""), dial), ["quote", car, plan, "--draws", "50", "--reach", REACHED[name][0], "--by", dial])
    screw = "%s/car.toml %s/plan_screw_blower.toml" % (estate, estate)
    commands.add("estate.two_visits", "quote %s --draws 60 --visit %s/gas_only.toml --visit %s/baseline.toml" % (screw, estate, estate))
    commands.add(
        "estate.reach_230kW.visit",
        ["quote", *screw.split(), "--draws", "50", "--visit", estate + "/baseline.toml", "--reach", "230 kW", "--by", "pulley", "--chance", "70 %", "--corrected"],
    )
    boost = "in/made/boost.toml"
    commands.add("turbo.boost", "predict %s/car.toml --plan %s" % (turbo, boost))
    commands.add("turbo.boost", "quote %s/car.toml %s --draws 50" % (turbo, boost))
    commands.add("turbo.reach_66kW.boost", ["quote", turbo + "/car.toml", boost, "--draws", "50", "--reach", "66 kW", "--by", "boost"])
    fit_commands(commands, estate, coupe)
    for days_name in (cold, *("in/weather/%s.toml" % d for d in days)):
        name = pathlib.PurePath(days_name).stem
        commands.add(name, "correct " + days_name)
        commands.add(name + ".power", ["correct", days_name, "--power", "300 kW", "--electric", "60 kW"])
        commands.add(name + ".held", ["correct", days_name, "--power", "400 hp", "--charging", "mechanical", "--held-boost", "0.8 bar gauge"])
        for charging in ("unboosted", "turbo", "turbo-coolant-cooled"):
            more = ["--engine", "diesel", "--charging", charging, "--fuel-per-cycle", "45", "--mechanical-efficiency", "0.86"]
            commands.add("%s.diesel.%s" % (name, charging), ["correct", days_name, "--power", "150 kW", *more])
    commands.add("altitude", ["correct", "in/weather/humid.toml", "--altitude", "900 m"])
    drum_commands(commands, drum)


def fit_commands(commands, estate, coupe):
    car, base = estate + "/car.toml", estate + "/baseline.toml"
    commands.chain(
        ("estate", "fit %s %s --out fitted.toml" % (car, base), ["fitted.toml"]),
        ("estate.fitted", "predict fitted.toml"),
        ("estate.fitted", "trace fitted.toml --rpm 4800"),
        ("estate.fitted", "quote fitted.toml %s/plan_screw_blower.toml --draws 60" % estate),
        ("estate.fitted", "diagnose fitted.toml %s/odd.toml" % estate),
        ("estate.again", "fit fitted.toml %s/gas_only.toml --out again.toml" % estate, ["again.toml"]),
    )
    commands.chain(
        ("coupe", "fit %s/car.toml %s/baseline.toml --out fitted.toml" % (coupe, coupe), ["fitted.toml"]),
        ("coupe.fitted", "predict fitted.toml --plan %s/plan_engine.toml" % coupe),
        ("coupe.fitted", "quote fitted.toml %s/plan_engine.toml --draws 60" % coupe),
    )
    commands.add("estate.two", "fit %s %s %s/gas_only.toml" % (car, base, estate))
    commands.add("estate.wrong", "fit %s/car.toml %s" % (coupe, base))
    commands.add("estate.wrong_accepted", "fit %s/car.toml %s --accept-misfit" % (coupe, base))
    commands.add("estate.odd", "diagnose %s %s/odd.toml --good %s" % (car, estate, base))
    commands.add("estate.odd.same_visit", "diagnose %s %s/odd.toml --good %s --same-visit" % (car, estate, base))
    commands.add("estate.odd.alone", "diagnose %s %s/odd.toml" % (car, estate))
    commands.add("estate.sound", "diagnose %s %s --good %s/gas_only.toml --pull 2" % (car, base, estate))
    pair, plan = "%s %s/after.toml" % (base, estate), "%s/plan_screw_blower.toml" % estate
    commands.add("estate", "compare " + pair)
    commands.add("estate.car", "compare %s --car %s --plan %s --csv gain.csv" % (pair, car, plan), ["gain.csv"])
    commands.add("estate.same_visit", "compare %s --same-visit --car %s" % (pair, car))
    commands.add("estate.din", "compare %s --car %s --plan %s --standard din-70020" % (pair, car, plan))
    commands.add("estate.window", ["compare", *pair.split(), "--car", car, "--charge-window", "3 %"])
    commands.add("estate.window_forced", ["compare", *pair.split(), "--car", car, "--charge-window", "3 %", "--force"])
    commands.add("estate.gas", "compare %s %s/gas_only.toml --car %s" % (base, estate, car))
    commands.add("estate.gas_forced", "compare %s %s/gas_only.toml --car %s --force" % (base, estate, car))


def drum_commands(commands, drum):
    log = drum + "/session.toml"
    commands.add("session", "reduce %s --csv curves.csv" % log, ["curves.csv"])
    for span in ("50 rpm", "100 rpm", "150 rpm"):
        commands.add("session.span_" + span[:-4], ["reduce", log, "--method", "savitzky-golay", "--span", span])
    for band in ("20 rpm", "100 rpm", "250 rpm"):
        commands.add("session.band_" + band[:-4], ["reduce", log, "--band", band])
    added = ["--added", "20 ± 0.2 kg m2", "--loaded-time", "44.9 s", "--loaded-time", "44.7 s", "--bare-time", "41.2 s", "--bare-time", "41.4 s"]
    rope = ["--height", "1.5 m", "--radius", "0.35 ± 0.001 m", "--light", "10 kg", "--heavy", "40 kg"]
    times = ["--light-time", "12.1 s", "--light-time", "12.0 s", "--heavy-time", "5.9 s"]
    commands.add("added", ["inertia", *added])
    commands.add("added.stated", ["inertia", *added, "--stated", "240 kg m2"])
    commands.add("added.once", ["inertia", "--added", "20 kg m2", "--bare-time", "41.2 s", "--loaded-time", "44.9 s"])
    commands.add("rope", ["inertia", *rope, *times])
    commands.add("rope.contradicted", ["inertia", *rope, *times, "--stated", "240 kg m2"])
    commands.add("incomplete", ["inertia", "--added", "20 kg m2"])
    for kind in ("car", "plan", "visit", "weather", "drum-log"):
        commands.chain((kind, "new " + kind), (kind + ".file", "new %s %s.toml" % (kind, kind), [kind + ".toml"]), (kind + ".again", "new %s %s.toml" % (kind, kind)))
    commands.chain(
        ("car.started", "new car car.toml"),
        ("started", "new plan plan.toml"),
        ("started", "predict car.toml"),
        ("started", "quote car.toml plan.toml --draws 60"),
        ("started", "trace car.toml --rpm 5000 --plan plan.toml"),
    )


def case_commands(commands, inputs):
    """The recorded validation cases: forecasts of all, fits and diagnoses of a few."""
    data = ROOT / "validation/data"
    for source in sorted(p for p in (data / "recorded_pulls").iterdir() if p.is_dir()):
        planned = cases.recorded(source, inputs / "cases" / source.name)
        name, at = source.name, "in/cases/" + source.name
        commands.add(name, "predict %s/car.toml" % at)
        commands.add(name + ".4400", "trace %s/car.toml --rpm 4400" % at)
        commands.add(name, "compare %s/baseline.toml %s/after.toml --car %s/car.toml" % (at, at, at))
        if planned:
            commands.add(name + ".plan", "predict %s/car.toml --plan %s/plan.toml" % (at, at))
            commands.add(name + ".plan.5200", "trace %s/car.toml --plan %s/plan.toml --rpm 5200" % (at, at))
            commands.add(name + ".plan", "compare %s/baseline.toml %s/after.toml --car %s/car.toml --plan %s/plan.toml" % (at, at, at, at))
            commands.add(name, "quote %s/car.toml %s/plan.toml --draws 50" % (at, at))
        if name in FITTED:
            chain = [(name, "fit %s/car.toml %s/baseline.toml --out fitted.toml" % (at, at), ["fitted.toml"]), (name + ".fitted", "predict fitted.toml")]
            if planned:
                chain.append((name + ".fitted", "quote fitted.toml %s/plan.toml --draws 50" % at))
            commands.chain(*chain)
    for source in sorted(p for p in (data / "faulty_pulls" / "first").iterdir() if p.is_dir()):
        cases.faulty(source, inputs / "cases" / source.name)
        name, at = source.name, "in/cases/" + source.name
        commands.add(name + ".4400", "trace %s/car.toml --rpm 4400" % at)
        commands.add(name, "predict %s/car.toml" % at)
        commands.add(name, "compare %s/clean.toml %s/spoiled.toml --same-visit" % (at, at))
        if name in DIAGNOSED:
            commands.add(name, "diagnose %s/car.toml %s/spoiled.toml --good %s/clean.toml --same-visit" % (at, at, at))


def generated_commands(commands, inputs):
    rng = random.Random(SEED)
    rota = Rota(rng)
    for number in range(CARS):
        folder = inputs / "cars" / ("%03d" % number)
        folder.mkdir(parents=True)
        known = cars.car(rng, number, folder)
        rota.plan(known, folder, "work on car %03d" % number)
        if number % 12 == 7:
            bad_files.spoil(rng, folder)
        at, name = "in/cars/%03d" % number, "car%03d" % number
        low, high = rng.randint(1700, 3200), rng.randint(3500, known["redline"])
        commands.add(name, "predict %s/car.toml" % at)
        commands.add(name + ".low", "trace %s/car.toml --rpm %d" % (at, low))
        commands.add(name + ".high", "trace %s/car.toml --plan %s/plan.toml --rpm %d" % (at, at, high))
        commands.add(name, "quote %s/car.toml %s/plan.toml --draws 50 --seed %d" % (at, at, number))
    return rota.used


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    inputs = pathlib.Path(sys.argv[1])
    inputs.mkdir(parents=True)
    shutil.copytree(ROOT / "scenarios", inputs / "scenarios")
    commands = Commands()
    days = weathers(inputs / "weather")
    (inputs / "made").mkdir()
    (inputs / "made" / "boost.toml").write_text(document("plan", "more boost", {"change": [{"kind": "boost", "boost_factor": 1.12}]}), encoding="utf-8")
    scenario_commands(commands, days)
    case_commands(commands, inputs)
    used = generated_commands(commands, inputs)
    bad_files.commands(commands, inputs)
    (inputs / "commands.json").write_text(json.dumps(commands.chains, ensure_ascii=False, indent=1), encoding="utf-8")
    print("%d commands in %d chains" % (len(commands.names), len(commands.chains)))
    print("kinds of change: " + ", ".join("%s %d" % item for item in sorted(used.items())))


if __name__ == "__main__":
    main()
