"""Invents the station year of the demo: `python make_station_year.py > ../../scenarios/upland_estate/station_year.csv`.

An upland town at 900 m, 47 degrees north, that does not exist. Every third hour of a year. A mean that follows the season, a day's swing that follows
the sun, and weather that lasts: temperature, sea-level pressure and dew-point depression are first-order autoregressive series with the
persistence of fronts, pressure falling when warm moist air comes. Standard library only; the same seed gives the same bytes.
"""
import datetime
import math
import random

ELEVATION_M = 900.0
STEP_H = 3
SEED = 47


def sea_to_station(sea_hpa, kelvin):
    """As weather services reduce: p0 = p exp(g h / (R (T + L h / 2)))."""
    return sea_hpa / math.exp(9.807 * ELEVATION_M / (287.055 * (kelvin + 0.0065 * ELEVATION_M / 2)))


def main():
    rng = random.Random(SEED)
    # Hours over which a disturbance fades to 1/e.
    keep = {name: math.exp(-STEP_H / hours) for name, hours in {"t": 60, "p": 80, "d": 40, "n": 20}.items()}
    state = dict.fromkeys(keep, 0.0)

    def next_of(name, common=0.0):
        fresh = math.sqrt(1 - keep[name] ** 2) * rng.gauss(0, 1)
        state[name] = keep[name] * state[name] + fresh + common
        return state[name]

    print("# An invented station: made by validation/station_year/make_station_year.py. Local standard time.")
    print("# elevation: 900 m")
    print("time,temperature (°C),dew point (°C),station pressure (hPa)")
    for _ in range(200):
        for name in keep:
            next_of(name)
    start = datetime.datetime(2025, 1, 1)
    for k in range(365 * 24 // STEP_H):
        when = start + datetime.timedelta(hours=STEP_H * k)
        day = when.timetuple().tm_yday
        season = -math.cos(2 * math.pi * (day - 20) / 365)  # -1 in late January, +1 in late July
        front = next_of("t")
        cloud = 1 / (1 + math.exp(-next_of("n")))  # 0 clear, 1 overcast
        swing = (4.5 + 1.5 * season) * (1.3 - 0.9 * cloud)
        sun = math.cos(2 * math.pi * (when.hour - 15) / 24)
        celsius = 7.0 + 9.5 * season + (4.3 - 0.7 * season) * front + swing * sun
        depression = max(0.0, 1.2 + 5.0 * (1 - cloud) + 1.2 * season + 0.75 * swing * (1 + sun) + 1.5 * next_of("d"))
        sea_hpa = 1017.0 - 1.0 * season + (8.5 - 2.5 * season) * next_of("p") - 2.0 * front
        station = sea_to_station(sea_hpa, celsius + 273.15)
        print(f"{when:%Y-%m-%dT%H:%M},{celsius:.1f},{celsius - depression:.1f},{station:.1f}")


if __name__ == "__main__":
    main()
