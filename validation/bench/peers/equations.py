"""The full-load pull of an unblown car on an inertia drum: docs/model.md, sections 2 to 6, in plain Python.

One text for two peers: called as it stands with `c` a plain object, and compiled by Numba with `c` a record of the same names. `t` is the
fuel-air curve, `humps` the tuning, `ki`, `ks`, `kp`, `km` the knock table, all made by the library (`inputs.rs`). Numbers in brackets are those
of the equations.
"""

import math

TURN = 2.0 * math.pi
DRY_AIR = 287.042
CHARGE_GAS = 273.0
STATED_DENSITY = 100_000.0 / (DRY_AIR * 298.15)
ROOM_K = 298.15
GAMMA = 1.3


def piston_area(c):
    return math.pi / 4.0 * c.bore_m * c.bore_m


def swept_volume(c):
    return piston_area(c) * c.stroke_m


def cylinder_volume(c, angle):
    crank = c.stroke_m / 2.0
    aside = crank * math.sin(angle)
    travel = c.rod_m + crank - crank * math.cos(angle) - math.sqrt(c.rod_m * c.rod_m - aside * aside)
    return swept_volume(c) / (c.compression_ratio - 1.0) + piston_area(c) * travel


def lambda_at(c, rpm):
    """(2.18)"""
    return min(max(c.lambda_middle + c.lambda_tilt * (2.0 * rpm / c.redline_rpm - 1.0), 0.6), 1.3)


def on_curve(v, place):
    """Cubic through nodes with central slopes, parabolas at its ends."""
    i = min(max(int(place), 0), 13)
    x = place - i
    u = -1.5 * v[0] + 2.0 * v[1] - 0.5 * v[2] if i == 0 else 0.5 * (v[i + 1] - v[i - 1])
    w = 1.5 * v[14] - 2.0 * v[13] + 0.5 * v[12] if i == 13 else 0.5 * (v[i + 2] - v[i])
    rise = v[i + 1] - v[i]
    if place < 0.0:
        return v[0] + place * u
    if place > 14.0:
        return v[14] + (place - 14.0) * w
    return v[i] + x * (u + x * (3.0 * rise - 2.0 * u - w + x * (u + w - 2.0 * rise)))


def smooth_bound(x, sharpness):
    """(2.3), (2.20)"""
    return (1.0 + x**sharpness) ** (-1.0 / sharpness)


def filling(c, humps, rpm, manifold_k, lam):
    """Volume swallowed at one unit of port density, m3/s, and the inlet Mach index (2.2 to 2.4, 2.8, 2.20)."""
    speed = c.stroke_m * rpm / 30.0
    valves = c.valve_count * math.pi / 4.0 * c.valve_m * c.valve_m
    mach = piston_area(c) * speed / (c.valve_flow * valves * math.sqrt(1.4 * DRY_AIR * manifold_k))
    choking = smooth_bound(mach / (c.choking_ratio * 0.5787 * c.valve_open_deg / 180.0), c.choking_exponent)
    fade = smooth_bound(rpm / c.fade_rpm, 10.0)
    tilt = max(1.0 + c.tilt * (rpm - c.redline_rpm / 1.5) / 2500.0, 0.2)
    tuned = rpm / math.sqrt(manifold_k / 310.0)
    tuning = 1.0
    for k in range(3):
        if humps[k, 0] != 0.0:
            away = math.log(tuned / humps[k, 1]) / humps[k, 2]
            tuning += humps[k, 0] * math.exp(-0.5 * away * away)
    late = late_closing(c, rpm)
    vapour = 1.0 / (1.0 + c.evaporated_share / (c.air_fuel * lam) * 28.96 / c.vapour_molar)
    swept = swept_volume(c) * c.cylinders * rpm / 120.0
    return swept * c.level * choking * fade * tilt * max(tuning, 0.3) * late * vapour, mach


def warmed(c, ntu, kelvin, flow):
    """(2.5)"""
    share = 1.0 - math.exp(-ntu * math.sqrt(math.sqrt(c.intake_flow / flow)))
    return kelvin + share * (c.wall_k - kelvin)


def behind_duct(c, share, pascal, density, flow):
    """(2.1)"""
    x = flow / c.intake_flow
    s = share * c.intake_pa * x * x * STATED_DENSITY / density / pascal / 0.9
    return pascal * (0.1 + 0.9 / (1.0 + s + s * s))


def late_closing(c, rpm):
    """Share of the swept charge that an inlet valve closing late keeps (2.8)."""
    whole = swept_volume(c) * c.compression_ratio / (c.compression_ratio - 1.0)
    closing = cylinder_volume(c, math.radians(180.0 + c.valve_closing_deg))
    s = min(max(math.log(rpm / 1000.0) / max(math.log(c.ram_rpm / 1000.0), 1e-6), 0.0), 1.0)
    return (closing / whole) ** (1.0 - s * s * (3.0 - 2.0 * s))


def through_overlap(c, difference, rpm):
    """(2.7)"""
    bar = abs(difference) * 1e-5
    return 1.266 * c.overlap_deg_m * 60.0 / rpm * bar / math.sqrt(bar + 0.02)


def evaporation_drop(c, lam):
    return c.latent_heat / (c.air_fuel * lam) / 1030.0


def around_cylinders(c, rpm, lam, volume, exhaust_k, flow):
    """Manifold, port and exhaust at a flow, and the manifold pressure that the cylinders need for it (2.1, 2.5 to 2.7, 4.7)."""
    inlet_pa = behind_duct(c, 1.0 - c.intake_behind, c.ambient_pa, c.air_density, flow)
    density = inlet_pa / (c.air_gas_constant * c.ambient_k)
    manifold_pa = behind_duct(c, c.intake_behind, inlet_pa, density, flow)
    manifold_k = warmed(c, c.manifold_ntu, c.ambient_k, flow)
    port_k = max(warmed(c, c.port_ntu, manifold_k, flow) - c.evaporated_share * evaporation_drop(c, lam), 230.0)
    loss = c.exhaust_loss * flow * flow * exhaust_k
    exhaust_pa = 0.5 * (c.ambient_pa + math.sqrt(c.ambient_pa * c.ambient_pa + 4.0 * loss))
    x = flow / c.exhaust_flow
    overlap_pa = exhaust_pa - min(c.scavenging_pa * x * x, 0.3 * exhaust_pa)
    r = c.compression_ratio
    b = 1.0 / (GAMMA * (r - 1.0))
    if manifold_pa > overlap_pa:
        renewed = -math.expm1(-1.9 * through_overlap(c, manifold_pa - overlap_pa, rpm) * r)
        trapped = max((1.0 + b) * manifold_pa - b * overlap_pa, 0.0) / manifold_pa
        gain = renewed * (r / (r - 1.0) - trapped)
    else:
        gain = -2.7 * min(through_overlap(c, overlap_pa - manifold_pa, rpm), 0.3)
    needed = (flow * c.air_gas_constant * port_k / volume + b * overlap_pa) / (1.0 + b + gain)
    return manifold_pa, manifold_k, port_k, exhaust_pa, overlap_pa, needed


def four_weights(place, count):
    place = min(max(place, -1.0), float(count))
    first = min(int(max(math.floor(place), 1.0)) - 1, count - 4)
    a = place - first
    b, c, d = a - 1.0, a - 2.0, a - 3.0
    return first, (-b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0)


def in_plane(m, u, v):
    """Cubic through four rows and four columns."""
    (i, (u0, u1, u2, u3)), (j, (v0, v1, v2, v3)) = u, v
    return (
        u0 * (v0 * m[i, j] + v1 * m[i, j + 1] + v2 * m[i, j + 2] + v3 * m[i, j + 3])
        + u1 * (v0 * m[i + 1, j] + v1 * m[i + 1, j + 1] + v2 * m[i + 1, j + 2] + v3 * m[i + 1, j + 3])
        + u2 * (v0 * m[i + 2, j] + v1 * m[i + 2, j + 1] + v2 * m[i + 2, j + 2] + v3 * m[i + 2, j + 3])
        + u3 * (v0 * m[i + 3, j] + v1 * m[i + 3, j + 1] + v2 * m[i + 3, j + 2] + v3 * m[i + 3, j + 3])
    )


def through_four(y0, y1, y2, y3):
    """Coefficients of the cubic through values at 0, 1, 2, 3."""
    d1, d2, d3 = y1 - y0, y2 - 2.0 * y1 + y0, y3 - 3.0 * y2 + 3.0 * y1 - y0
    return d1 - d2 / 2.0 + d3 / 3.0, d2 / 2.0 - d3 / 2.0, d3 / 6.0


def crossing(y0, y1, y2, y3, left):
    """Where the cubic through four values falls through nought between `left` and one more."""
    c1, c2, c3 = through_four(y0, y1, y2, y3)
    low = y0 + left * (c1 + left * (c2 + left * c3))
    right = left + 1.0
    high = y0 + right * (c1 + right * (c2 + right * c3))
    x = left + low / (low - high)
    for _ in range(4):
        slope = min(c1 + x * (2.0 * c2 + x * 3.0 * c3), -1e-6)
        x = min(max(x - (y0 + x * (c1 + x * (c2 + x * c3))) / slope, left), right)
    return x


def knock_limit(c, ki, ks, rpm, pascal, kelvin, duration):
    """Earliest angle of half the burn without knock, deg (3.8); far before best torque where nothing knocks."""
    u, v = four_weights((kelvin - 290.0) / 36.0, 6), four_weights((duration - 35.0) / 12.5, 5)
    threshold = math.log(6.0 * rpm * 1.38e-3 * c.knock_delay) + 5.0 * math.log(c.octane / 100.0) - 1.7 * math.log(pascal / 101_325.0)
    walls = math.exp(-0.49 * math.log(rpm / 4000.0) - 0.19 * math.log(pascal / 1.4e5)) - 1.0
    low, high = 0, 12
    if in_plane(ki[0], u, v) + walls * ks[0] <= threshold:
        return -1e3
    if in_plane(ki[12], u, v) + walls * ks[12] > threshold:
        return 58.0
    while high - low > 1:
        middle = (low + high) // 2
        if in_plane(ki[middle], u, v) + walls * ks[middle] > threshold:
            low = middle
        else:
            high = middle
    first = min(max(low - 1, 0), 9)
    y0 = in_plane(ki[first], u, v) + walls * ks[first] - threshold
    y1 = in_plane(ki[first + 1], u, v) + walls * ks[first + 1] - threshold
    y2 = in_plane(ki[first + 2], u, v) + walls * ks[first + 2] - threshold
    y3 = in_plane(ki[first + 3], u, v) + walls * ks[first + 3] - threshold
    return -2.0 + 5.0 * (first + crossing(y0, y1, y2, y3, float(low - first)))


def peak_ratio(kp, km, kelvin, duration, ca50):
    """Highest pressure over that at the start of compression, from the same table."""
    u, v, w = four_weights((kelvin - 290.0) / 36.0, 6), four_weights((duration - 35.0) / 12.5, 5), four_weights((ca50 + 2.0) / 5.0, 13)
    fired, motored = 0.0, 0.0
    for k in range(4):
        fired += w[1][k] * in_plane(kp[w[0] + k], u, v)
        motored += u[1][k] * km[u[0] + k]
    return max(fired, motored)


def retard_loss(late):
    """Work left by phasing late by so many degrees (3.4)."""
    straight = 3.05e-4 / (3.0 * 2.65e-6)
    x = min(late, straight)
    return max(1.0 - x * x * (3.05e-4 - 2.65e-6 * x) + x * (3.0 * 2.65e-6 * x - 2.0 * 3.05e-4) * (late - x), 0.0)


def condition_exponents(lam):
    """Work by temperature, pressure and residual of the charge, over lambda (3.2): columns of its table between nodes."""
    place = min(max((lam - 0.8) / 0.1, 0.0), 3.0)
    if place < 1.0:
        x, a0, a1, b0, b1, c0, c1 = place, -0.01017, -0.01429, 0.00120, 0.00279, 0.09676, 0.12533
    elif place < 2.0:
        x, a0, a1, b0, b1, c0, c1 = place - 1.0, -0.01429, -0.02116, 0.00279, 0.00620, 0.12533, 0.18095
    else:
        x, a0, a1, b0, b1, c0, c1 = place - 2.0, -0.02116, -0.01860, 0.00620, 0.00360, 0.18095, 0.14483
    return a0 + x * (a1 - a0), b0 + x * (b1 - b0), c0 + x * (c1 - c0)


def products(c, lam):
    """Energy released per kg of dry air, the enthalpy's two coefficients and the gas constant, of the burned gas (3.19)."""
    h, o, k = c.hydrogen, c.oxygen, 3.5
    demand = 1.0 + h / 4.0 - o / 2.0
    fuel = 1.0 / (c.air_fuel * lam)
    carbon = fuel / (12.011 + 1.008 * h + 15.999 * o)
    short = max(2.0 * (1.0 - lam) * demand, 0.0)
    linear = h / 2.0 - short + k + k * short
    co = min(2.0 * k * short / (linear + math.sqrt(max(linear * linear + 4.0 * (1.0 - k) * k * short, 0.0))), 1.0)
    h2 = short - co
    co2, water, oxygen = carbon * (1.0 - co), carbon * (h / 2.0 - h2), carbon * max(lam * demand - demand, 0.0)
    nitrogen = (1.0 - 0.23144) / 28.155
    a = co2 * 35513.7 + carbon * co * 27007.3 + water * 29275.1 + carbon * h2 * 27948.2 + oxygen * 27899.2 + nitrogen * 26961.9
    b = co2 * 8.9779 + carbon * co * 2.9652 + water * 6.0252 + carbon * h2 * 1.2318 + oxygen * 3.3248 + nitrogen * 2.7753
    gas_constant = 8314.462618 * (co2 + carbon * co + water + carbon * h2 + oxygen + nitrogen) / (1.0 + fuel)
    return fuel * c.heating_value - carbon * (co * 282.98e6 + h2 * 241.82e6), a, b, gas_constant


def wall_level(c, speed, density):
    """(3.10)"""
    return c.wall_share * (speed / c.wall_piston_speed) ** c.wall_speed_exponent * (density / c.wall_density) ** c.wall_density_exponent


def burn(c, t, ki, ks, kp, km, rpm, lam, flow, around, residual_k, mach):
    """Torque at the crank, N m, gas behind the valve and in the exhaust, K (sections 3 and 4)."""
    manifold_pa, manifold_k, port_k, exhaust_pa, overlap_pa, _ = around
    r = c.compression_ratio
    dry = flow / (1.0 + c.humidity_ratio)
    fuel = dry / (c.air_fuel * lam)
    # the charge when the inlet valve closes (2.9, 3.7)
    released, a, b, burned_gas = products(c, lam)
    density = manifold_pa / (c.air_gas_constant * manifold_k)
    closing_pa = overlap_pa + c.valve_pumping_pa * density / 1.184 * (mach / 0.5) ** 4
    left_k = 450.0 + 0.5 * (residual_k - 450.0)
    renewed, back = 0.0, 0.0
    if manifold_pa > overlap_pa:
        renewed = -math.expm1(-1.9 * through_overlap(c, manifold_pa - overlap_pa, rpm) * r)
    else:
        back = min(through_overlap(c, overlap_pa - manifold_pa, rpm), 0.3)
    left = closing_pa * swept_volume(c) / (r - 1.0) / (burned_gas * left_k) * (1.0 - renewed)
    fresh = (flow + fuel) / (rpm / 120.0 * c.cylinders)
    residual = min(left / (left + fresh) + back, 0.4)
    w = 1.1 * residual
    hot_k = left_k * (1.0 / 1.3 + (1.0 - 1.0 / 1.3) * manifold_pa / closing_pa)
    kelvin = ((1.0 - residual) * port_k + w * hot_k) / (1.0 - residual + w)
    kelvin = (kelvin + 0.2 * (450.0 - kelvin)) * late_closing(c, rpm) ** 0.35
    density = fresh / (1.0 - residual) / (swept_volume(c) * r / (r - 1.0))
    pascal = density * CHARGE_GAS * kelvin
    # how long it burns (3.5, 3.6)
    phi = 1.0 / lam
    rich = phi - c.flame_equivalence
    warm, dense = kelvin / 350.0, pascal / 1e5
    flame = max(c.flame_peak + c.flame_curvature * rich * rich, 0.02) * max(1.0 - 2.1 * residual, 0.1)
    flame *= (620.0 * warm / 298.0) ** (2.18 - 0.8 * (phi - 1.0)) * (15e5 * dense / 101_325.0) ** (-0.16 + 0.22 * (phi - 1.0))
    ratio = flame / c.burn_flame
    duration = c.burn_deg * (rpm / c.burn_rpm) ** c.burn_exponent / (ratio * ratio * dense / warm) ** (1.0 / 3.0)
    # when (3.8, 3.9)
    later = knock_limit(c, ki, ks, rpm, pascal, kelvin, duration) - c.best_ca50_deg
    ca50 = c.best_ca50_deg + (later if later > 30.0 else math.log1p(math.exp(later))) + c.late_deg
    # what it does (3.1, 3.2, 3.4, 3.10)
    speed = c.stroke_m * rpm / 30.0
    level = wall_level(c, speed, density)
    share = min(max(level * (1.0 - 0.42 * (1.0 - math.exp(-max(ca50 - c.wall_ca50_deg, -15.0) / 19.0))), 0.0), 0.6)
    by_kelvin, by_pascal, by_residual = condition_exponents(lam)
    condition = math.exp(by_kelvin * (kelvin - 350.0) / 100.0 + by_pascal * math.log(pascal * 1e-5) + by_residual * (residual - 0.05))
    off = lam - c.best_lambda
    work = max(on_curve(t, (lam - 0.70) / 0.05), 0.0) * c.energy_per_air / lam * max(1.0 - c.mixture_curvature * off * off, 0.0)
    work *= max(1.0 - c.retard_multiplier * (1.0 - retard_loss(ca50 - c.best_ca50_deg)), 0.0) * condition
    work *= max(1.0 - c.wall_work * (min(level, 0.6) - c.wall_reference), 0.0)
    indicated = dry * work
    # what the crank keeps (4.1 to 4.5)
    per_pa = swept_volume(c) * c.cylinders * rpm / 120.0
    pumping = exhaust_pa - manifold_pa + c.valve_pumping_pa * manifold_pa / (c.air_gas_constant * manifold_k) / 1.184 * (mach / 0.5) ** 2
    peak_pa = pascal * peak_ratio(kp, km, kelvin, duration, ca50)
    friction = c.friction_pa + c.friction_peak * peak_pa + speed * (c.friction_speed + c.friction_speed_squared * speed) * c.oil_factor
    accessories = c.accessories_w * (c.accessories_constant + (1.0 - c.accessories_constant) * (rpm / 6000.0) ** 2)
    torque = (indicated - (pumping + friction) * per_pa - accessories) / (rpm * TURN / 60.0)
    # what leaves (4.6)
    unsprayed = port_k + c.evaporated_share * evaporation_drop(c, lam)
    inlet = (flow * 1.4 * c.air_gas_constant / 0.4 * (unsprayed - ROOM_K) - fuel * c.latent_heat) / dry
    leaving = inlet + 0.96 * released * (1.0 - share) - (indicated - pumping * per_pa) / dry
    constant = leaving / (1.0 + 1.6 * c.humidity_ratio) + a * ROOM_K + b * ROOM_K * ROOM_K
    valve_k = max(2.0 * constant / (a + math.sqrt(max(a * a + 4.0 * b * constant, 0.0))), 500.0)
    exhaust_k = c.port_wall_k + (valve_k - c.port_wall_k) * math.exp(c.port_kept_ln * math.sqrt(math.sqrt(c.port_flow / (flow + fuel))))
    return torque, valve_k, exhaust_k


def drum(c, rpm, torque):
    """Power read, W, and how fast the crank climbs, rad/s2: secant steps on the acceleration of the surface (6.1 to 6.6)."""
    omega = rpm * TURN / 60.0
    ratio = c.first_ratio * c.last_ratio
    wheel = omega / ratio
    x = wheel * c.tyre_m / 60.0
    radius = c.tyre_m * (1.0 + c.growth * x * x)
    growing = radius + 2.0 * (radius - c.tyre_m)
    warm = max(1.0 + 0.008 * (c.tyre_k - ROOM_K), 0.5)
    rolling = c.rolling * c.load_n * math.sqrt(1.0 + c.tyre_m / c.drum_m) / warm
    first_spin = c.first_spin_nm * (0.4 + 0.6 * omega / (200.0 * math.pi)) * c.gear_oil
    last_spin = c.last_spin_nm * (0.4 + 0.6 * omega / c.first_ratio / (200.0 * math.pi)) * c.gear_oil
    acceleration, slip, slope, v, turning = 0.0, 0.0, -1.0, 0.0, 0.0
    before, before_error = math.nan, math.nan
    for _ in range(12):
        v = wheel * radius / (1.0 + max(slip, -0.5))
        turning = acceleration * (1.0 + slip) / growing
        into = torque - c.engine_kg_m2 * turning * ratio
        behind = c.first_ratio * (into - (1.0 - c.first_mesh) * abs(into) - first_spin)
        behind = c.last_ratio * (behind - (1.0 - c.last_mesh) * abs(behind) - last_spin)
        force = (behind - c.turning_kg_m2 * turning) / radius - rolling * (1.0 + 0.15 * (v / 60.0) ** 2)
        f = force / c.load_n
        u4 = (f / c.grip) ** 4
        u8 = u4 * u4
        passed = force / math.sqrt(math.sqrt(math.sqrt(math.sqrt(1.0 + u8 * u8))))
        new_slip = min(max(f / c.slip_stiffness * (1.0 + u8 * u4), -1.0), 1.0)
        error = (passed - c.drag_n - (c.drag_n_s_m + c.drag_n_s2_m2 * v) * v) / c.drum_kg - acceleration
        if abs(error) <= 1e-11 * (1.0 + abs(acceleration)) and abs(new_slip - slip) < 1e-11:
            break
        if before != acceleration:
            secant = (error - before_error) / (acceleration - before)
            if -5.0 <= secant < -0.2:
                slope = secant
        before, before_error = acceleration, error
        acceleration -= error / slope
        slip = new_slip
    drag = (c.drag_n + (c.drag_n_s_m + c.drag_n_s2_m2 * v) * v) * c.drag_added_back
    return (c.drum_kg * acceleration + drag) * v, turning * ratio


#: Every function of this text, callees first: what a compiler is given in this order.
IN_ORDER = (
    piston_area, swept_volume, cylinder_volume, lambda_at, on_curve, smooth_bound, filling, warmed, behind_duct, late_closing, through_overlap,
    evaporation_drop, around_cylinders, four_weights, in_plane, through_four, crossing, knock_limit, peak_ratio, retard_loss,
    condition_exponents, products, wall_level, burn, drum,
)  # fmt: skip
