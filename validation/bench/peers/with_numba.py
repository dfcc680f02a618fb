"""The same equations compiled by Numba, the same algorithm written out: a secant for the flow, passes for the temperatures, Dormand and Prince's pair
for clock and sensor, with the step that follows the error.

The compiled text is a copy of `equations`, so that the plain one stays plain for SciPy's peer.
"""

import importlib.util
import math

import equations
import numpy as np
from numba import njit

TURN = equations.TURN
SENSOR_S = 1.5


def compiled():
    """`equations` with every function compiled, callees first."""
    spec = importlib.util.spec_from_file_location("compiled_equations", equations.__file__)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for function in module.IN_ORDER:
        setattr(module, function.__name__, njit(function, error_model="numpy"))
    return module


q = compiled()
lambda_at, filling, around_cylinders, burn, drum = q.lambda_at, q.filling, q.around_cylinders, q.burn, q.drum

#: Dormand and Prince's fifth-order pair: stages, nodes, and the difference of the two orders. (E. Hairer, S. P. Norsett and G. Wanner, Solving
#: Ordinary Differential Equations I, table II.5.2; from memory.)
STAGES = np.array(
    [
        [1 / 5, 0, 0, 0, 0, 0],
        [3 / 40, 9 / 40, 0, 0, 0, 0],
        [44 / 45, -56 / 15, 32 / 9, 0, 0, 0],
        [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0, 0],
        [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656, 0],
        [35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84],
    ]
)
NODES = np.array([1 / 5, 3 / 10, 4 / 5, 8 / 9, 1.0, 1.0])
ERROR = np.array([71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])


@njit(error_model="numpy")
def operating_point(c, humps, tables, rpm, near):
    t, ki, ks, kp, km = tables
    lam = lambda_at(c, rpm)
    _, flow, valve_k, exhaust_k, manifold_k, near_rpm = near
    if near_rpm > 0.0:
        flow *= rpm / near_rpm
    else:
        flow, valve_k, exhaust_k, manifold_k = 0.5 * c.intake_flow, 1200.0, 1200.0, c.ambient_k
    last, torque = 0.02, 0.0
    for _ in range(60):
        volume, mach = filling(c, humps, rpm, manifold_k, lam)
        residual = min(max(0.01 * last, 1e-9), 1e-4)
        at = around_cylinders(c, rpm, lam, volume, exhaust_k, flow)
        gap = (at[0] - at[5]) / c.ambient_pa
        if abs(gap) > residual:
            other = flow * (1.0 + min(last, 0.02))
            for _ in range(40):
                at = around_cylinders(c, rpm, lam, volume, exhaust_k, other)
                other_gap = (at[0] - at[5]) / c.ambient_pa
                if abs(other_gap) <= residual or other_gap == gap:
                    break
                further = other - other_gap * (other - flow) / (other_gap - gap)
                flow, gap, other = other, other_gap, min(max(further, 0.3 * other), 3.0 * other)
            flow = other
        torque, new_valve_k, new_exhaust_k = burn(c, t, ki, ks, kp, km, rpm, lam, flow, at, valve_k, mach)
        change = max(abs(new_valve_k / valve_k - 1.0), abs(new_exhaust_k / exhaust_k - 1.0), abs(at[1] / manifold_k - 1.0))
        valve_k, exhaust_k, manifold_k, last = new_valve_k, new_exhaust_k, at[1], change
        if change < 1e-6 and residual <= 1e-6:
            break
    return torque, flow, valve_k, exhaust_k, manifold_k, rpm


@njit(error_model="numpy")
def readings_from(c, humps, tables, speeds, first):
    near, out = first, np.empty(len(speeds))
    for k in range(len(speeds)):
        near = operating_point(c, humps, tables, speeds[k], near)
        out[k] = drum(c, speeds[k], near[0])[0]
    return out


@njit(error_model="numpy")
def whole_pull(c, humps, tables, speeds, tolerance):
    count = len(speeds)
    unknown = (0.0, 0.0, 0.0, 0.0, 0.0, -1.0)
    first = operating_point(c, humps, tables, speeds[0], unknown)
    end = speeds[-1] * TURN / 60.0
    x = speeds[0] * TURN / 60.0
    time, sensor = np.zeros(count), np.full(count, first[4])
    y, rate = np.array([0.0, first[4]]), np.zeros((7, 2))
    climb = drum(c, speeds[0], first[0])[1]
    rate[0, 0] = 1.0 / climb
    near, h, done = first, min(0.25 * (end - x), climb), 1
    while x < end - 1e-9:
        h = min(h, end - x)
        z0, z1 = 0.0, 0.0
        for s in range(6):
            z0, z1 = y[0], y[1]
            for j in range(s + 1):
                z0 += h * STAGES[s, j] * rate[j, 0]
                z1 += h * STAGES[s, j] * rate[j, 1]
            near = operating_point(c, humps, tables, (x + NODES[s] * h) * 60.0 / TURN, near)
            climb = drum(c, near[5], near[0])[1]
            rate[s + 1, 0], rate[s + 1, 1] = 1.0 / climb, (near[4] - z1) / SENSOR_S / climb
        e0, e1 = 0.0, 0.0
        for j in range(7):
            e0 += h * ERROR[j] * rate[j, 0]
            e1 += h * ERROR[j] * rate[j, 1]
        e0 /= tolerance * (1.0 + max(abs(y[0]), abs(z0)))
        e1 /= tolerance * (100.0 + max(abs(y[1]), abs(z1)))
        error = math.sqrt(0.5 * (e0 * e0 + e1 * e1))
        if error <= 1.0:
            while done < count and speeds[done] * TURN / 60.0 <= x + h + 1e-9:
                # the cubic through both ends and their rates
                w = (speeds[done] * TURN / 60.0 - x) / h
                a, b = (1.0 + 2.0 * w) * (1.0 - w) ** 2, w * (1.0 - w) ** 2 * h
                d, e = w * w * (3.0 - 2.0 * w), w * w * (w - 1.0) * h
                time[done] = a * y[0] + b * rate[0, 0] + d * z0 + e * rate[6, 0]
                sensor[done] = a * y[1] + b * rate[0, 1] + d * z1 + e * rate[6, 1]
                done += 1
            x += h
            y[0], y[1] = z0, z1
            rate[0] = rate[6]
        h *= 10.0 if error == 0.0 else min(10.0, max(0.2, 0.9 * error**-0.2))
    return readings_from(c, humps, tables, speeds, first), time, sensor


def prepare(car, count):
    """What the compiled functions take."""
    return car.record(), car.humps, car.tables, np.linspace(car.from_rpm, car.to_rpm, count)


def pull(ready):
    return whole_pull(*ready, 1e-4)


def readings(ready):
    c, humps, tables, speeds = ready
    return readings_from(c, humps, tables, speeds, (0.0, 0.0, 0.0, 0.0, 0.0, -1.0))
