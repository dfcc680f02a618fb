"""The pull as an engineer writes it with SciPy: `brentq` for the flow, passes for the temperatures, `solve_ivp` for clock and sensor."""

import equations as q
import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

SENSOR_S = 1.5


def operating_point(c, humps, tables, rpm, near):
    """(torque, flow, gas behind the valve, exhaust, manifold temperature, speed); `near` is one of a neighbouring speed."""
    lam = q.lambda_at(c, rpm)
    if near is None:
        flow, valve_k, exhaust_k, manifold_k = 0.5 * c.intake_flow, 1200.0, 1200.0, c.ambient_k
    else:
        flow, valve_k, exhaust_k, manifold_k = near[1] * rpm / near[5], near[2], near[3], near[4]
    for _ in range(60):
        volume, mach = q.filling(c, humps, rpm, manifold_k, lam)

        def gap(m):
            around = q.around_cylinders(c, rpm, lam, volume, exhaust_k, m)
            return (around[0] - around[5]) / c.ambient_pa

        low, high = 0.98 * flow, 1.02 * flow
        while gap(low) * gap(high) > 0.0:
            low, high = max(low - (high - low), 0.1 * low), high + (high - low)
        flow = brentq(gap, low, high, xtol=1e-10, rtol=1e-9)
        around = q.around_cylinders(c, rpm, lam, volume, exhaust_k, flow)
        torque, new_valve_k, new_exhaust_k = q.burn(c, *tables, rpm, lam, flow, around, valve_k, mach)
        change = max(abs(new_valve_k / valve_k - 1), abs(new_exhaust_k / exhaust_k - 1), abs(around[1] / manifold_k - 1))
        valve_k, exhaust_k, manifold_k = new_valve_k, new_exhaust_k, around[1]
        if change < 1e-6:
            break
    return torque, flow, valve_k, exhaust_k, manifold_k, rpm


def readings(car, count):
    """Power read at equally spaced engine speeds, W: what an unblown car's curve needs, since nothing slow feeds back."""
    c, near, out = car.plain(), None, np.empty(count)
    for k, rpm in enumerate(np.linspace(car.from_rpm, car.to_rpm, count)):
        near = operating_point(c, car.humps, car.tables, float(rpm), near)
        out[k] = q.drum(c, float(rpm), near[0])[0]
    return out


def pull(car, count):
    """The same with time, s, and the charge sensor, K."""
    c, humps, tables = car.plain(), car.humps, car.tables
    near = operating_point(c, humps, tables, car.from_rpm, None)

    def rates(omega, y):
        nonlocal near
        rpm = omega * 60.0 / q.TURN
        near = operating_point(c, humps, tables, rpm, near)
        climb = q.drum(c, rpm, near[0])[1]
        return 1.0 / climb, (near[4] - y[1]) / SENSOR_S / climb

    start = (0.0, near[4])
    omega = np.linspace(car.from_rpm, car.to_rpm, count) * q.TURN / 60.0
    solved = solve_ivp(rates, (omega[0], omega[-1]), start, t_eval=omega, rtol=1e-4, atol=(1e-4, 1e-2))
    return readings(car, count), solved.y[0], solved.y[1]
