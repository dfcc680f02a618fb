"""The library's pull and its peers in turn on one core: first whether they solve the same equations, then how long each takes.

    cargo build --release --example pull_peers
    taskset -c 1 python validation/bench/peers/compare.py target/release/examples/pull_peers scenarios/manual_coupe/car.toml

CPU seconds, so that other work on the machine counts little; median and least of the rounds. The library's pulls run in a process of
their own, whose start is taken off.
"""

import os

# Some machines name a core that they do not have; NumPy then picks slow kernels. Before NumPy is there.
os.environ.pop("OPENBLAS_CORETYPE", None)

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time

import inputs
import lean
import numpy as np
import with_numba
import with_scipy

COUNT = 28
#: How far a peer's curve may be from the library's: both stop where the next pass would change their temperatures by less than a millionth.
SAME = 1e-6


def child(*command):
    """CPU seconds of a process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def own(call, count):
    start = time.process_time()
    for _ in range(count):
        call()
    return (time.process_time() - start) / count


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("car")
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--pulls", type=int, default=5000)
    asked = parser.parse_args()
    with tempfile.NamedTemporaryFile("w", suffix=".json") as file:
        file.write(subprocess.run([asked.program, "inputs", asked.car], check=True, capture_output=True, text=True).stdout)
        file.flush()
        car = inputs.read(file.name)
    ready, thrifty = with_numba.prepare(car, COUNT), lean.prepare(car, COUNT)
    wrong = False
    print(f"{'curve of':28} {'power off, at most':>20} {'clock off, s':>14} {'sensor off, K':>14}")
    for name, curve in [
        ("SciPy", with_scipy.pull(car, COUNT)),
        ("Numba, same algorithm", with_numba.pull(ready)),
        ("Numba, lean", lean.pull(thrifty)),
    ]:
        off = np.max(np.abs(curve[0] / car.curve["power_w"] - 1.0))
        late = np.max(np.abs(curve[1] - car.curve["time_s"]))
        warm = np.max(np.abs(curve[2] - car.curve["sensor_k"]))
        wrong |= not off < SAME
        print(f"{name:28} {off:20.1e} {late:14.1e} {warm:14.1e}")
    if wrong:
        sys.exit(f"a peer is further than {SAME} from the library: they do not solve the same equations")
    with_numba.readings(ready)
    n = asked.pulls
    ways = {
        "library": lambda: (child(asked.program, "pulls", asked.car, str(n)) - child(asked.program, "pulls", asked.car, "0")) / n,
        "Numba, lean": lambda: own(lambda: lean.pull(thrifty), n),
        "Numba, same algorithm": lambda: own(lambda: with_numba.pull(ready), n // 5),
        "Numba, readings alone": lambda: own(lambda: with_numba.readings(ready), n // 5),
        "SciPy": lambda: own(lambda: with_scipy.pull(car, COUNT), 3),
        "SciPy, readings alone": lambda: own(lambda: with_scipy.readings(car, COUNT), 5),
    }
    times = {name: [] for name in ways}
    for _ in range(asked.rounds):
        for name, way in ways.items():
            times[name].append(way())
    base = statistics.median(times["library"])
    print(f"\n{'a pull of 28 speeds':28} {'median, us':>12} {'least, us':>12} {'a second':>10} {'over the library':>18}")
    for name, spent in times.items():
        median = statistics.median(spent)
        print(f"{name:28} {median * 1e6:12.1f} {min(spent) * 1e6:12.1f} {1 / median:10.0f} {median / base:18.2f}")


if __name__ == "__main__":
    main()
