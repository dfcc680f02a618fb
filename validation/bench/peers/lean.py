"""The same answers arranged for speed, compiled by Numba: what arrangement alone gives on these equations.

- What hangs on engine speed alone is worked out once a point; powers are sums of logarithms that several factors share.
- Flow and temperatures settle together, one look at the gas path a pass, from a parabola through the last three points.
- The search for the knock limit begins where the last point left it; peak pressure, friction and torque come when the temperatures stand.
- Clock and sensor, to which nothing answers, are integrated over the readings themselves.
"""

import math

import equations
import numpy as np
from numba import njit
from with_numba import SENSOR_S, TURN, q

lambda_at, drum, on_curve, four_weights, in_plane = q.lambda_at, q.drum, q.on_curve, q.four_weights, q.in_plane
peak_ratio, retard_loss, condition_exponents, products, crossing = (
    q.peak_ratio, q.retard_loss, q.condition_exponents, q.products, q.crossing,
)  # fmt: skip
DRY_AIR, CHARGE_GAS, STATED_DENSITY, ROOM_K, GAMMA = (
    equations.DRY_AIR, equations.CHARGE_GAS, equations.STATED_DENSITY, equations.ROOM_K, equations.GAMMA,
)  # fmt: skip

#: Relative change at which a point stands; the step after it is taken all the same.
ENOUGH = 5e-7


@njit(error_model="numpy")
def near_knock_limit(ki, ks, threshold, walls, u, v, near):
    """The knock limit, looked for around an angle near which it lies."""
    first = min(max(int((near + 2.0) / 5.0) - 1, 0), 9)
    for _ in range(26):
        y0 = in_plane(ki[first], u, v) + walls * ks[first] - threshold
        if y0 <= 0.0:
            if first == 0:
                return -1e3
            first = max(first - 2, 0)
            continue
        y1 = in_plane(ki[first + 1], u, v) + walls * ks[first + 1] - threshold
        y2 = in_plane(ki[first + 2], u, v) + walls * ks[first + 2] - threshold
        y3 = in_plane(ki[first + 3], u, v) + walls * ks[first + 3] - threshold
        if y3 > 0.0 and y2 > 0.0 and y1 > 0.0:
            if first == 9:
                return 58.0
            first = min(first + 2, 9)
            continue
        left = 0 if y1 <= 0.0 else (1 if y2 <= 0.0 else 2)
        centred = min(max(first + left - 1, 0), 9)
        if centred != first:
            first = centred
            continue
        return -2.0 + 5.0 * (first + crossing(y0, y1, y2, y3, float(left)))
    return 58.0


@njit(error_model="numpy")
def point(c, humps, tables, car_lns, rpm, start):
    """Torque, flow, valve, exhaust, knock limit and slope of the gap; `start` likewise, foreseen."""
    t, ki, ks, kp, km = tables
    _, flow, valve_k, exhaust_k, near, slope = start
    late_ln, ram_ln, octane_ln = car_lns
    lam = lambda_at(c, rpm)
    rpm_ln = math.log(rpm)
    r = c.compression_ratio
    area = math.pi / 4.0 * c.bore_m * c.bore_m
    swept = area * c.stroke_m
    speed = c.stroke_m * rpm / 30.0
    s = min(max((rpm_ln - 6.907755278982137) / ram_ln, 0.0), 1.0)
    fade = math.exp(-0.1 * math.log1p(math.exp(10.0 * (rpm_ln - math.log(c.fade_rpm)))))
    tilt = max(1.0 + c.tilt * (rpm - c.redline_rpm / 1.5) / 2500.0, 0.2)
    vapour = 1.0 / (1.0 + c.evaporated_share / (c.air_fuel * lam) * 28.96 / c.vapour_molar)
    per_pa = swept * c.cylinders * rpm / 120.0
    late_now_ln = late_ln * (1.0 - s * s * (3.0 - 2.0 * s))
    filled = per_pa * c.level * fade * tilt * vapour * math.exp(late_now_ln)
    late_cooling = math.exp(0.35 * late_now_ln)
    mach_root = area * speed / (c.valve_flow * c.valve_count * math.pi / 4.0 * c.valve_m * c.valve_m * math.sqrt(1.4 * DRY_AIR))
    choke = c.choking_ratio * 0.5787 * c.valve_open_deg / 180.0
    drop = c.evaporated_share * c.latent_heat / (c.air_fuel * lam) / 1030.0
    b = 1.0 / (GAMMA * (r - 1.0))
    overlap = 1.266 * c.overlap_deg_m * 60.0 / rpm
    phi = 1.0 / lam
    rich = phi - c.flame_equivalence
    by_warm, by_dense = 2.18 - 0.8 * (phi - 1.0), -0.16 + 0.22 * (phi - 1.0)
    flame_ln = math.log(max(c.flame_peak + c.flame_curvature * rich * rich, 0.02) / c.burn_flame)
    flame_ln += by_warm * math.log(620.0 / 298.0) + by_dense * math.log(15e5 / 101_325.0)
    burn_ln = c.burn_exponent * (rpm_ln - math.log(c.burn_rpm))
    level_ln = c.wall_speed_exponent * math.log(speed / c.wall_piston_speed) + math.log(c.wall_share)
    threshold_ln = rpm_ln + octane_ln
    walls_ln = -0.49 * (rpm_ln - math.log(4000.0)) + 0.19 * math.log(1.4e5)
    by_kelvin, by_pascal, by_residual = condition_exponents(lam)
    off = lam - c.best_lambda
    best_work = max(on_curve(t, (lam - 0.70) / 0.05), 0.0) * c.energy_per_air / lam * max(1.0 - c.mixture_curvature * off * off, 0.0)
    released, ea, eb, burned_gas = products(c, lam)
    room = ea * ROOM_K + eb * ROOM_K * ROOM_K
    dry_share = 1.0 / (1.0 + c.humidity_ratio)
    fuel_share = dry_share / (c.air_fuel * lam)
    charge = 1.0 / (rpm / 120.0 * c.cylinders) / (swept * r / (r - 1.0))
    last_flow, last_gap, torque = 0.0, 0.0, 0.0
    for turn in range(40):
        # gas path
        x = flow / c.intake_flow
        z = (1.0 - c.intake_behind) * c.intake_pa * x * x * STATED_DENSITY / c.air_density / c.ambient_pa / 0.9
        manifold_pa = c.ambient_pa * (0.1 + 0.9 / (1.0 + z + z * z))
        if c.intake_behind > 0.0:
            density = manifold_pa / (c.air_gas_constant * c.ambient_k)
            z = c.intake_behind * c.intake_pa * x * x * STATED_DENSITY / density / manifold_pa / 0.9
            manifold_pa *= 0.1 + 0.9 / (1.0 + z + z * z)
        slower = math.sqrt(math.sqrt(1.0 / x))
        manifold_k = c.wall_k + (c.ambient_k - c.wall_k) * math.exp(-c.manifold_ntu * slower)
        port_k = max(c.wall_k + (manifold_k - c.wall_k) * math.exp(-c.port_ntu * slower) - drop, 230.0)
        exhaust_pa = 0.5 * (c.ambient_pa + math.sqrt(c.ambient_pa * c.ambient_pa + 4.0 * c.exhaust_loss * flow * flow * exhaust_k))
        y = flow / c.exhaust_flow
        overlap_pa = exhaust_pa - min(c.scavenging_pa * y * y, 0.3 * exhaust_pa)
        mach = mach_root / math.sqrt(manifold_k)
        w = mach / choke
        if c.choking_exponent == 4.0:
            w *= w
            choking = 1.0 / math.sqrt(math.sqrt(1.0 + w * w))
        else:
            choking = (1.0 + w**c.choking_exponent) ** (-1.0 / c.choking_exponent)
        tuning = 1.0
        for k in range(3):
            if humps[k, 0] != 0.0:
                away = (rpm_ln - 0.5 * math.log(manifold_k / 310.0) - math.log(humps[k, 1])) / humps[k, 2]
                tuning += humps[k, 0] * math.exp(-0.5 * away * away)
        difference = abs(manifold_pa - overlap_pa) * 1e-5
        passing = overlap * difference / math.sqrt(difference + 0.02)
        renewed, back = 0.0, 0.0
        if manifold_pa > overlap_pa:
            renewed = -math.expm1(-1.9 * passing * r)
            gain = renewed * (r / (r - 1.0) - max((1.0 + b) * manifold_pa - b * overlap_pa, 0.0) / manifold_pa)
        else:
            back = min(passing, 0.3)
            gain = -2.7 * back
        needed = flow * c.air_gas_constant * port_k / (filled * choking * max(tuning, 0.3)) + b * overlap_pa
        gap = (manifold_pa - needed / (1.0 + b + gain)) / c.ambient_pa
        if turn > 0 and abs(flow - last_flow) > 1e-6 * flow:
            slope = min(max((gap - last_gap) / (flow - last_flow) * flow, -3.0), -0.5)
        step = -gap / slope
        # cylinder
        dry, fuel = flow * dry_share, flow * fuel_share
        valves_pa = c.valve_pumping_pa * manifold_pa / (c.air_gas_constant * manifold_k) / 1.184 * 4.0 * mach * mach
        closing_pa = overlap_pa + valves_pa * 4.0 * mach * mach
        left_k = 450.0 + 0.5 * (valve_k - 450.0)
        left = closing_pa / (r * burned_gas * left_k) * (1.0 - renewed)
        fresh = (flow + fuel) * charge
        residual = min(left / (left + fresh) + back, 0.4)
        hot = 1.1 * residual
        hot_k = left_k * (1.0 / 1.3 + (1.0 - 1.0 / 1.3) * manifold_pa / closing_pa)
        kelvin = ((1.0 - residual) * port_k + hot * hot_k) / (1.0 - residual + hot)
        kelvin = (kelvin + 0.2 * (450.0 - kelvin)) * late_cooling
        density = fresh / (1.0 - residual)
        density_ln, kelvin_ln = math.log(density), math.log(kelvin)
        pascal_ln = density_ln + kelvin_ln + 5.6094717951849598
        warm_ln, dense_ln = kelvin_ln - 5.857933154483459, pascal_ln - 11.512925464970229
        ratio_ln = flame_ln + by_warm * warm_ln + by_dense * dense_ln + math.log(max(1.0 - 2.1 * residual, 0.1))
        duration = c.burn_deg * math.exp(burn_ln - (2.0 * ratio_ln + dense_ln - warm_ln) / 3.0)
        u, v = four_weights((kelvin - 290.0) / 36.0, 6), four_weights((duration - 35.0) / 12.5, 5)
        threshold = threshold_ln - 1.7 * (pascal_ln - 11.526088476711106)
        near = near_knock_limit(ki, ks, threshold, math.exp(walls_ln - 0.19 * pascal_ln) - 1.0, u, v, near)
        later = near - c.best_ca50_deg
        ca50 = c.best_ca50_deg + (later if later > 30.0 else math.log1p(math.exp(later))) + c.late_deg
        level = math.exp(level_ln + c.wall_density_exponent * (density_ln - math.log(c.wall_density)))
        share = min(level * (1.0 - 0.42 * (1.0 - math.exp(-max(ca50 - c.wall_ca50_deg, -15.0) / 19.0))), 0.6)
        condition = math.exp(by_kelvin * (kelvin - 350.0) / 100.0 + by_pascal * dense_ln + by_residual * (residual - 0.05))
        phasing = max(1.0 - c.retard_multiplier * (1.0 - retard_loss(ca50 - c.best_ca50_deg)), 0.0)
        indicated = dry * best_work * phasing * condition * max(1.0 - c.wall_work * (min(level, 0.6) - c.wall_reference), 0.0)
        pumping = exhaust_pa - manifold_pa + valves_pa
        inlet = flow * 3.5 * c.air_gas_constant * (port_k + drop - ROOM_K) - fuel * c.latent_heat
        leaving = (inlet - indicated + pumping * per_pa) / dry + 0.96 * released * (1.0 - share)
        heat = leaving / (1.0 + 1.6 * c.humidity_ratio) + room
        new_valve_k = max(2.0 * heat / (ea + math.sqrt(max(ea * ea + 4.0 * eb * heat, 0.0))), 500.0)
        cooled = math.exp(c.port_kept_ln * math.sqrt(math.sqrt(c.port_flow / (flow + fuel))))
        new_exhaust_k = c.port_wall_k + (new_valve_k - c.port_wall_k) * cooled
        change = max(abs(new_valve_k - valve_k) / valve_k, abs(new_exhaust_k - exhaust_k) / exhaust_k, 3.0 * abs(step))
        valve_k, exhaust_k = new_valve_k, new_exhaust_k
        if change < ENOUGH:
            peak_pa = density * CHARGE_GAS * kelvin * peak_ratio(kp, km, kelvin, duration, ca50)
            friction = c.friction_pa + c.friction_peak * peak_pa + speed * (c.friction_speed + c.friction_speed_squared * speed) * c.oil_factor
            accessories = c.accessories_w * (c.accessories_constant + (1.0 - c.accessories_constant) * (rpm / 6000.0) ** 2)
            torque = (indicated - (pumping + friction) * per_pa - accessories) / (rpm * TURN / 60.0)
            break
        last_flow, last_gap = flow, gap
        flow *= 1.0 + min(max(step, -0.3), 0.3)
    return (torque, flow, valve_k, exhaust_k, near, slope), manifold_k


@njit(error_model="numpy")
def pull(ready):
    """Power read, W, time, s, and the charge sensor, K."""
    c, humps, tables, speeds, car_lns = ready
    count = len(speeds)
    out, time, sensor = np.empty(count), np.zeros(count), np.empty(count)
    step = (speeds[1] - speeds[0]) * TURN / 60.0
    now, manifold_k = point(c, humps, tables, car_lns, speeds[0], (0.0, 0.4 * c.intake_flow, 1200.0, 1200.0, 20.0, -1.2))
    one = two = now
    pace, warm = 0.0, manifold_k
    for k in range(count):
        if k > 0:
            if k == 1:
                foreseen = (0.0, one[1] * speeds[1] / speeds[0], one[2], one[3], one[4], one[5])
            elif k == 2:
                foreseen = (0.0, 2 * now[1] - one[1], 2 * now[2] - one[2], 2 * now[3] - one[3], now[4], now[5])
            else:
                foreseen = (
                    0.0, 3 * (now[1] - one[1]) + two[1], 3 * (now[2] - one[2]) + two[2], 3 * (now[3] - one[3]) + two[3], now[4], now[5],
                )  # fmt: skip
            two, one = one, now
            now, manifold_k = point(c, humps, tables, car_lns, speeds[k], foreseen)
        out[k], climb = drum(c, speeds[k], now[0])
        if k == 0:
            sensor[0] = manifold_k
        else:
            seconds = 0.5 * (1.0 / climb + pace) * step
            time[k] = time[k - 1] + seconds
            z = seconds / SENSOR_S
            ramp = (manifold_k - warm) / z
            sensor[k] = manifold_k - ramp + (sensor[k - 1] - warm + ramp) * math.exp(-z)
        pace, warm = 1.0 / climb, manifold_k
    return out, time, sensor


def prepare(car, count):
    """What the compiled function takes; the logarithms that belong to the car alone among it."""
    c = car.plain()
    whole = equations.swept_volume(c) * c.compression_ratio / (c.compression_ratio - 1.0)
    closing = equations.cylinder_volume(c, math.radians(180.0 + c.valve_closing_deg))
    octane_ln = 5.0 * math.log(c.octane / 100.0) + math.log(6.0 * 1.38e-3 * c.knock_delay)
    car_lns = (math.log(closing / whole), max(math.log(c.ram_rpm / 1000.0), 1e-6), octane_ln)
    return car.record(), car.humps, car.tables, np.linspace(car.from_rpm, car.to_rpm, count), car_lns
