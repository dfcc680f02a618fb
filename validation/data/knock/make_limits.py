"""Knock-limited half burn of one cylinder from a closed cycle of its own.

usage: python make_limits.py ..            (writes limits.csv)

One zone (first law), heat in by a Wiebe curve (a = 5, m = 2), out by Woschni; end gas compressed without heat; iso-octane at
lambda 0.88, residual 0.05, 0.90 of the releasable energy acts. Bore 95, stroke 90, rod 150 mm, ratio 10. Heat-capacity ratios are
short polynomials of Cantera 3.2 (nasa_gas.yaml) for iso-octane at lambda 0.88: fresh gas 1.41689 - 0.24835 t + 0.08616 t^2,
burned gas in shifting equilibrium 1.48495 - 0.37882 t + 0.22801 t^2 - 0.04775 t^3 (t = T/1000 K). Released per kg of air at lambda
0.88: 0.956 of 2.951 MJ (LHV of the vapour 44.65 MJ/kg over 15.13). Walls 450 K, area 2 A_p + 4 V/B.
Delay: tau = 1.38 ms (ON/100)^5.0 p^-1.7 exp(6000/T), p in atm; the integral of dt/tau until 0.95 has burned is 1 at the limit.
Integrated with scipy LSODA at rtol 1e-9, the limit by brentq to 1e-6 deg. An empty cell: earlier than 2 deg after top dead centre.
Printed besides: the integral with Douaud & Eyzat's own numbers and with those in use, at borderline knock of two engines without boost.
"""
import csv, os, sys
import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

OUT = sys.argv[1] if len(sys.argv) > 1 else ".."
BORE, STROKE, ROD, RATIO = 0.095, 0.090, 0.150, 10.0
AREA = np.pi / 4 * BORE**2
SWEPT = AREA * STROKE
R_GAS = 272.1
AIR_FUEL = 15.13 * 0.88
HEAT_PER_KG = 0.90 * 0.95 * 0.956 * 2.951e6 * AIR_FUEL / (1 + AIR_FUEL)
WALL_K = 450.0


class Law:
    """Delay in s at 1 atm, octane 100 and endless temperature; exponents; activation temperature in K; window."""

    def __init__(self, delay, octane, activation, window):
        self.delay, self.octane, self.activation, self.window = delay, octane, activation, window


IN_USE = Law(1.38e-3, 5.0, 6000.0, 0.95)
DOUAUD_EYZAT = Law(17.68e-3, 3.402, 3800.0, 0.95)


def volume(x):
    a = STROKE / 2
    return SWEPT / (RATIO - 1) + AREA * (ROD + a - a * np.cos(x) - np.sqrt(ROD**2 - (a * np.sin(x)) ** 2))


def volume_slope(x):
    a = STROKE / 2
    return AREA * a * np.sin(x) * (1 + a * np.cos(x) / np.sqrt(ROD**2 - (a * np.sin(x)) ** 2))


def fresh(k):
    t = np.clip(k, 250, 1150) / 1000
    return 1.41689 - 0.24835 * t + 0.08616 * t**2


def burned(k):
    t = np.clip(k, 1000, 2900) / 1000
    return 1.48495 - 0.37882 * t + 0.22801 * t**2 - 0.04775 * t**3


def integral(p1, t1, octane, rpm, duration_deg, ca50_deg, law=IN_USE):
    duration = np.radians(duration_deg)
    start = np.radians(ca50_deg) - duration * (np.log(2) / 5) ** (1 / 3)
    close = start + duration * (-np.log(1 - law.window) / 5) ** (1 / 3)
    v1 = volume(-np.pi)
    mass = p1 * v1 / (R_GAS * t1)
    heat = mass * HEAT_PER_KG
    seconds = 1 / (6 * rpm) * 180 / np.pi
    speed = 2 * STROKE * rpm / 60

    def slope(x, y):
        p, ln_u, _ = y
        v, dv = volume(x), volume_slope(x)
        mean = t1 * p * v / (p1 * v1)
        z = max((x - start) / duration, 0.0)
        left = np.exp(-5 * z**3)
        rate = 15 * z**2 * left / duration
        motored = p1 * (v1 / v) ** 1.32 if x > start else p
        w = 2.28 * speed + 3.24e-3 * SWEPT * t1 / (p1 * v1) * max(p - motored, 0.0)
        h = 3.26 * BORE**-0.2 * (p / 1000) ** 0.8 * mean**-0.55 * w**0.8
        lost = h * (2 * AREA + 4 * v / BORE) * (mean - WALL_K) * seconds
        unburned = np.exp(ln_u)
        gu = fresh(unburned)
        g = gu + (1 - left) * (burned(mean) - gu)
        dp = ((g - 1) * (heat * rate - lost) - g * p * dv) / v
        tau = law.delay * (octane / 100) ** law.octane * (p / 101325) ** -1.7 * np.exp(law.activation / unburned)
        return [dp, (gu - 1) / gu * dp / p, seconds / tau]

    y = [p1, np.log(t1), 0.0]
    for a, b in ((-np.pi, start), (start, close)):
        y = solve_ivp(slope, (a, b), y, method="LSODA", rtol=1e-9, atol=1e-12, max_step=0.05).y[:, -1]
    return y[2]


def limit(*case):
    f = lambda ca50: np.log(integral(*case, ca50))
    return None if f(2.0) < 0 else brentq(f, 2.0, 60.0, xtol=1e-6)


with open(os.path.join(OUT, "limits.csv"), "w", newline="") as fh:
    w = csv.writer(fh, lineterminator="\n")
    w.writerow(["bar", "T_K", "ON", "rpm", "duration_deg", "ca50_deg"])
    for bar, kelvin, octanes in ((1.0, 350, (87, 91, 98)), (1.4, 350, (91, 95, 98)), (1.5, 370, (91, 95, 98)), (2.0, 360, (91, 98, 105))):
        for octane in octanes:
            for rpm, duration in ((2000, 48), (4000, 55), (6000, 62)):
                at = limit(bar * 1e5, kelvin, octane, rpm, duration)
                w.writerow([bar, kelvin, octane, rpm, duration, "" if at is None else f"{at:.3f}"])

for case in ((1.05e5, 352, 91, 1500, 42, 15), (1.10e5, 355, 95, 2500, 48, 15)):
    print(case, [f"{integral(*case, law):.4f}" for law in (DOUAUD_EYZAT, IN_USE)])
