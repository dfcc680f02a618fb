"""The wheel answers what the program answers, byte for byte: both are the same library, and nothing may be lost on either way."""

from pathlib import Path

import numpy as np
import pullcast
import pytest
from conftest import Program

COUPE, ESTATE = "scenarios/manual_coupe", "scenarios/upland_estate"
STATION = f"{ESTATE}/station_year.csv"


def test_predict(program: Program) -> None:
    answer = pullcast.predict(pullcast.Car(f"{COUPE}/car.toml"), pullcast.Plan(f"{COUPE}/plan_breathing.toml"))
    assert answer.json == program.json("predict", f"{COUPE}/car.toml", f"{COUPE}/plan_breathing.toml")


def test_predict_with_everything_said(program: Program) -> None:
    car, day = pullcast.Car(f"{ESTATE}/car.toml"), pullcast.Air.read(f"{ESTATE}/after_day.toml")
    answer = pullcast.predict(car, weather=day, standard="iso-1585", charge=0.6, pulls=3, rest_s=90.0, within_share=0.02)
    said = ["--weather", f"{ESTATE}/after_day.toml", "--standard", "iso-1585", "--charge", "60 %"]
    row = ["--pulls", "3", "--rest", "90 s", "--within", "2 %"]
    assert answer.json == program.json("predict", f"{ESTATE}/car.toml", *said, *row)


def test_fit_and_the_file_it_leaves(program: Program, tmp_path: Path) -> None:
    car = pullcast.Car(f"{COUPE}/car.toml")
    fitted, account = pullcast.fit(car, [f"{COUPE}/baseline.toml"])
    assert account.json == program.json("fit", f"{COUPE}/car.toml", f"{COUPE}/baseline.toml")
    assert fitted.is_fitted and not car.is_fitted
    theirs, ours = tmp_path / "program.toml", tmp_path / "wheel.toml"
    program.json("fit", f"{COUPE}/car.toml", f"{COUPE}/baseline.toml", "--out", str(theirs))
    fitted.save(ours)
    assert ours.read_bytes() == theirs.read_bytes()
    with pytest.raises(pullcast.FileError, match="already"):
        fitted.save(ours)


def test_quote(program: Program) -> None:
    car, plan = pullcast.Car(f"{ESTATE}/car.toml"), pullcast.Plan(f"{ESTATE}/plan_screw_blower.toml")
    answer = pullcast.quote(car, plan, visits=[f"{ESTATE}/baseline.toml"], draws=60, seed=3, hoped_w=260e3)
    call = [f"{ESTATE}/car.toml", f"{ESTATE}/plan_screw_blower.toml", "--visit", f"{ESTATE}/baseline.toml"]
    said = ["--draws", "60", "--seed", "3", "--hoped", "260 kW", "--no-learning"]
    assert answer.json == program.json("quote", *call, *said)


def test_diagnose(program: Program) -> None:
    car = pullcast.Car(f"{ESTATE}/car.toml")
    answer = pullcast.diagnose(car, f"{ESTATE}/odd.toml", good=[f"{ESTATE}/baseline.toml"])
    call = [f"{ESTATE}/car.toml", f"{ESTATE}/odd.toml", "--good", f"{ESTATE}/baseline.toml"]
    assert answer.json == program.json("diagnose", *call)


def test_spread_whole_in_parts_and_in_the_programs_folder(program: Program, tmp_path: Path) -> None:
    car, plan = pullcast.Car(f"{COUPE}/car.toml"), pullcast.Plan(f"{COUPE}/plan_breathing.toml")
    question = pullcast.Spread(car, plan, station=STATION, draws=200, seed=5, months=(4, 9), promise_w=85e3)
    call = ["spread", f"{COUPE}/car.toml", f"{COUPE}/plan_breathing.toml", "--station", STATION, "--draws", "200"]
    call += ["--seed", "5", "--months", "4-9", "--promise", "85 kW"]
    whole = program.json(*call)
    assert question.answer().json == whole
    parts = [question.part(number, 3) for number in (3, 1, 2)]
    assert question.join(parts).json == whole
    program.run(*call, "--keep", str(tmp_path), "--shard", "2/3")
    kept = tmp_path / f"spread-{question.name}-2-of-3.json"
    assert kept.read_bytes() == parts[2]
    for wrong in (parts[:2], [*parts, parts[0]], []):
        with pytest.raises(pullcast.PullcastError, match="each has to be there once"):
            question.join(wrong)
    other = pullcast.Spread(car, plan, station=STATION, draws=200, seed=6, months=(4, 9), promise_w=85e3)
    with pytest.raises(pullcast.PullcastError, match="another question"):
        other.join(parts)


def test_samples_are_those_of_the_programs_table(program: Program, tmp_path: Path) -> None:
    samples = pullcast.Spread(pullcast.Car(f"{COUPE}/car.toml"), station=STATION, draws=100).samples()
    table = tmp_path / "draws.csv"
    program.json("spread", f"{COUPE}/car.toml", "--station", STATION, "--draws", "100", "--csv", str(table))
    read = np.genfromtxt(table, delimiter=",", names=True)
    for ours, theirs, rounding in [
        ("draw", "draw", 0.0),
        ("month_after", "month_after", 0.0),
        ("temperature_before_k", "temperature_k", 0.005),
        ("power_after_w", "power_after_w", 0.05),
        ("torque_before_nm", "torque_before_nm", 0.0005),
    ]:
        # The table rounds; two of its own digits' halves and the float's last bit.
        np.testing.assert_allclose(samples[ours], read[theirs], rtol=1e-12, atol=rounding)


def test_what_is_wrong_has_the_programs_words(program: Program, tmp_path: Path) -> None:
    text = Path(f"{COUPE}/car.toml").read_text(encoding="utf-8")
    bad = tmp_path / "bad.toml"
    bad.write_text(text.replace("cylinders", "zylinders", 1), encoding="utf-8")
    with pytest.raises(pullcast.FileError) as caught:
        pullcast.Car(bad)
    assert str(caught.value) == program.run("predict", str(bad)).stderr
    assert any(problem["line"] for problem in caught.value.problems)
    with pytest.raises(pullcast.FileError):
        pullcast.Plan(tmp_path / "nowhere.toml")
    odd, refused = f"{ESTATE}/odd.toml", "nothing to judge the odd pull against"
    with pytest.raises(pullcast.PullcastError, match=refused):
        pullcast.diagnose(pullcast.Car(f"{ESTATE}/car.toml"), odd)
