"""A spread over the workers of a Dask cluster: each works out parts, one joins them, and the document is the program's to the last byte.

    python docs/beyond/dask_spread.py CAR [PLAN] --station HOURS.csv --draws 1000000 --parts 64 [--scheduler ADDRESS] > spread.json

Without a scheduler's address two workers of one process each are started on this machine. Every worker must see the files under the names given.
"""

import argparse

import pullcast
from dask.distributed import Client, LocalCluster, as_completed


def question(asked: argparse.Namespace) -> pullcast.Spread:
    car, plan = pullcast.Car(asked.car), pullcast.Plan(asked.plan) if asked.plan else None
    return pullcast.Spread(car, plan, station=asked.station, draws=asked.draws, seed=asked.seed)


def part(asked: argparse.Namespace, number: int) -> bytes:
    return question(asked).part(number, asked.parts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("car")
    parser.add_argument("plan", nargs="?")
    parser.add_argument("--station", required=True)
    parser.add_argument("--draws", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--parts", type=int, default=8)
    parser.add_argument("--scheduler")
    asked = parser.parse_args()
    # A part uses every core of its machine, so one thread to a worker is enough.
    cluster = asked.scheduler or LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with Client(cluster) as client:
        # Parts of one question differ in their number alone: they are not to be taken for one another.
        futures = [client.submit(part, asked, number, pure=False) for number in range(1, asked.parts + 1)]
        parts = [done.result() for done in as_completed(futures)]
    print(question(asked).join(parts).json, end="")


if __name__ == "__main__":
    main()
