"""Filling of one cylinder through an inlet valve, by filling and emptying, against speed and cam.

usage: python make_camshaft.py > camshaft.csv

Perfect gas (gamma 1.4, R 287.05), a manifold of constant state 100 kPa and 310 K, a cylinder without heat transfer that
holds burned gas of 1100 K and 100 kPa when the inlet valve opens or at top dead centre, whichever is later; no pipes, so
no ram. 86 x 86 mm, rod 139 mm, r 10.5, valve area 0.2812 of the bore (two of 0.375 bore). Lift as sin squared over the
open period; its mean flow coefficient on the head area is stated. Runge-Kutta of fourth order, 0.25 deg.
filling = mass drawn in until closing over swept volume at manifold density.
"""
import numpy as np
G, R, P0, T0 = 1.4, 287.05, 100e3, 310.0
B = S = 0.086
L, RC = 0.1393, 10.5
AP = np.pi / 4 * B * B
AV = 0.28125 * AP
VD = AP * S


def volume(theta):
    a = S / 2
    x = L + a - a * np.cos(theta) - np.sqrt(L * L - (a * np.sin(theta)) ** 2)
    return VD / (RC - 1) + AP * x


def slope(theta):
    return (volume(theta + 1e-5) - volume(theta - 1e-5)) / 2e-5


def psi(x):
    crit = (2 / (G + 1)) ** (G / (G - 1))
    x = max(x, crit)
    return 0.0 if x >= 1 else x ** (1 / G) * np.sqrt(2 * G / (G - 1) * (1 - x ** ((G - 1) / G)))


def filling(rpm, coefficient, duration, closing):
    ivc = np.radians(180 + closing)
    ivo = ivc - np.radians(duration)
    start = max(ivo, 0.0)
    omega = rpm * 2 * np.pi / 60
    step = np.radians(0.25)
    n = int(round((ivc - start) / step))
    step = (ivc - start) / n
    state = np.array([P0, P0 * volume(start) / (R * 1100.0), 0.0])  # pressure, mass, drawn in

    def rate(theta, y):
        p, m, _ = y
        v = volume(theta)
        t = p * v / (m * R)
        # sin squared has mean one half.
        area = 2 * coefficient * AV * np.sin(np.pi * (theta - ivo) / (ivc - ivo)) ** 2
        if p < P0:
            flow, carried = area * P0 / np.sqrt(R * T0) * psi(p / P0), T0
        else:
            flow, carried = -area * p / np.sqrt(R * t) * psi(P0 / p), t
        flow /= omega
        return np.array([(G * R * carried * flow - G * p * slope(theta)) / v, flow, flow])

    theta = start
    for _ in range(n):
        a = rate(theta, state)
        b = rate(theta + step / 2, state + step / 2 * a)
        c = rate(theta + step / 2, state + step / 2 * b)
        d = rate(theta + step, state + step * c)
        state = state + step / 6 * (a + 2 * b + 2 * c + d)
        theta += step
    return state[2] * R * T0 / (P0 * VD)


if __name__ == "__main__":
    sound = np.sqrt(G * R * T0)
    print("duration_deg,closing_abdc_deg,coefficient,rpm,mach_index,filling")
    for duration, closing, coefficient in ((245, 55, 0.35), (245, 64, 0.35), (263, 55, 0.35), (263, 64, 0.35), (263, 64, 0.385), (245, 46, 0.35), (245, 55, 0.385)):
        for rpm in range(1000, 9001, 1000):
            z = AP * S * rpm / 30 / (coefficient * AV * sound)
            print(f"{duration},{closing},{coefficient},{rpm},{z:.5f},{filling(rpm, coefficient, duration, closing):.6f}")
