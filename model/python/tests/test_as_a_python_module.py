"""What Python expects of a module: arrays, tables, exceptions, threads, stubs that are true."""

import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pullcast
import pytest

COUPE = "scenarios/manual_coupe"


@pytest.fixture(scope="module")
def coupe() -> pullcast.Car:
    return pullcast.Car(f"{Path(__file__).resolve().parents[3]}/{COUPE}/car.toml")


def test_rows_are_arrays(coupe: pullcast.Car) -> None:
    answer = pullcast.predict(coupe)
    points = answer.arrays("points")
    power, rpm = points["power_w"], points["rpm"]
    assert isinstance(power, np.ndarray) and power.dtype == np.float64 and isinstance(rpm, np.ndarray)
    assert power.tolist() == [row["power_w"] for row in answer["points"]]
    assert isinstance(points["blower_rpm"], np.ndarray) and np.isnan(points["blower_rpm"]).all()
    assert isinstance(points["capped_by"], list)
    frame = answer.to_pandas("points")
    assert frame["power_w"].max() == power.max() and len(frame) == len(rpm)
    # A quoted curve holds ranges within its rows.
    quoted = pullcast.quote(coupe, draws=50).arrays("curve")
    assert np.all(np.asarray(quoted["after_w.p5"]) <= np.asarray(quoted["after_w.p95"]))
    with pytest.raises(KeyError):
        answer.arrays("no such part")
    with pytest.raises(TypeError):
        answer.arrays("peak_power")


def test_an_answer_is_a_mapping(coupe: pullcast.Car) -> None:
    answer = pullcast.predict(coupe)
    assert set(answer) == set(answer.keys()) == set(answer.to_dict()) and len(answer) == len(answer.keys())
    assert "peak_power" in answer and "draws" not in answer
    assert answer["schema"] == "pullcast/predict/" + answer["schema"].rsplit("/", 1)[1]
    assert f"{answer['peak_power']['power_w'] / 1e3:.1f} kW" in str(answer)


def test_more_humid_hot_thin_air_takes_power(coupe: pullcast.Car) -> None:
    def peak(pressure_pa: float, kelvin: float, humidity: float) -> float:
        air = pullcast.Air(station_pressure_pa=pressure_pa, temperature_k=kelvin, relative_humidity=humidity)
        return float(pullcast.predict(coupe, weather=air)["peak_power"]["power_w"])

    assert peak(101e3, 283.0, 0.2) > peak(101e3, 303.0, 0.2) > peak(101e3, 303.0, 0.9) > peak(85e3, 303.0, 0.9)
    with pytest.raises(pullcast.PullcastError, match="140.0 % is outside"):
        pullcast.Air(station_pressure_pa=99e3, temperature_k=290.0, relative_humidity=1.4)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"draws": 10}, "draws = 10: expected 50 to 100000"),
        ({"standard": "sae"}, "sae"),
        ({"mechanical_efficiency": 88.0}, "expected 0.3 to 1"),
    ],
)
def test_what_cannot_be_is_refused(coupe: pullcast.Car, asked: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        pullcast.quote(coupe, **asked)  # type: ignore[arg-type]


def test_other_threads_go_on_meanwhile(coupe: pullcast.Car) -> None:
    """With the lock held, no other thread would run between the call's begin and its end."""
    ticks: list[float] = []
    over = threading.Event()

    def tick() -> None:
        while not over.wait(0.001):
            ticks.append(time.perf_counter())

    thread = threading.Thread(target=tick)
    thread.start()
    begin = time.perf_counter()
    pullcast.quote(coupe, draws=2000)
    end = time.perf_counter()
    over.set()
    thread.join()
    inside = np.array([begin, *(t for t in ticks if begin < t < end), end])
    # A quarter of the call at least seven times over: scheduling of a busy machine costs milliseconds, the call takes far more.
    assert np.diff(inside).max() < 0.5 * (end - begin), f"{len(inside)} ticks in {end - begin:.3f} s"


@pytest.mark.parametrize("script", ["fit", "quote", "spread"])
def test_scripts_of_the_book_run(script: str) -> None:
    done = subprocess.run([sys.executable, f"docs/python/{script}.py"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) > 20, done.stdout


def test_the_stubs_are_true(tmp_path: Path) -> None:
    # The compiled module below the package is not to be imported by its own name.
    inner = tmp_path / "allowed"
    inner.write_text("pullcast.pullcast\n", encoding="utf-8")
    command = [sys.executable, "-m", "mypy.stubtest", "pullcast", "--allowlist", str(inner)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
