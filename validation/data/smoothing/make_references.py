"""Reference values for the smoothers of drum logs: scipy.signal.savgol_filter, statsmodels and a plain NumPy smoother.

Run: python3 make_references.py   (writes series.csv, savgol.csv, smoother.csv beside itself)
"""

from pathlib import Path

import mpmath as mp
import numpy as np
import scipy
import statsmodels
from scipy.signal import savgol_coeffs, savgol_filter
from statsmodels.tsa.statespace.mlemodel import MLEModel

HERE = Path(__file__).parent
RNG = np.random.default_rng(20)
N, DT, SIGMA = 240, 0.02, 0.03

t = DT * np.arange(N)
force = 4.0 - 0.18 * t + 0.35 * np.sin(1.7 * t)
v = 18.0 + np.concatenate([[0.0], np.cumsum(0.5 * (force[1:] + force[:-1]) * DT)])
y = np.round(v + SIGMA * RNG.standard_normal(N), 6)
# The same readings at uneven times: three of every ten left out.
keep = np.array([i for i in range(N) if i % 10 not in (3, 7, 8)])

with open(HERE / "series.csv", "w") as out:
    out.write("time_s,speed_m_s,kept\n")
    for i in range(N):
        out.write(f"{t[i]:.3f},{y[i]:.6f},{int(i in set(keep))}\n")

with open(HERE / "savgol.csv", "w") as out:
    out.write("window,degree,derivative,row,value\n")
    for window, degree, derivative in [(5, 2, 1), (15, 2, 1), (31, 2, 1), (31, 3, 1), (31, 2, 0), (61, 4, 2)]:
        filtered = savgol_filter(y, window, degree, deriv=derivative, delta=DT)
        for row in range(window // 2, N - window // 2, 23):
            out.write(f"{window},{degree},{derivative},{row},{filtered[row]:.17g}\n")
    for window in (15, 31, 61):
        for degree in (2, 3):
            gain = np.sqrt(np.sum(savgol_coeffs(window, degree, deriv=1) ** 2))
            out.write(f"{window},{degree},1,-1,{gain:.17g}\n")


def chain(n, dt, q):
    """Transition and process noise of n integrators, by the block-matrix exponential (C. F. Van Loan, 1978)."""
    from scipy.linalg import expm

    a = np.diag(np.ones(n - 1), 1)
    noise = np.zeros((n, n))
    noise[-1, -1] = q
    m = expm(np.block([[-a, noise], [np.zeros((n, n)), a.T]]) * dt)
    f = m[n:, n:].T
    return f, f @ m[:n, n:]


class Chain(MLEModel):
    """n integrators on an even grid, exact diffuse start, given noise levels."""

    def __init__(self, data, n, dt, q, r):
        super().__init__(data, k_states=n, k_posdef=n)
        f, noise = chain(n, dt, q)
        self["design", 0, 0] = 1.0
        self["transition"] = f
        self["selection"] = np.eye(n)
        self["state_cov"] = noise
        self["obs_cov", 0, 0] = r
        self.ssm.initialize_diffuse()
        # Without this the filter stops updating its covariance once it hardly changes.
        self.ssm.tolerance = 0


def plain(ts, data, n, q, r):
    """The same by generalised least squares on dense matrices of 50 digits, for uneven times: nothing recursive is shared."""
    mp.mp.dps = 50
    ts = [mp.mpf(float(x)) for x in ts]
    q, r, steps = mp.mpf(q), mp.mpf(r), len(ts)

    def prior(i, a, j, b):
        """Covariance of state a at i and state b at j of integrators that start at zero: the integral of their responses."""
        low, high = min(ts[i], ts[j]) - ts[0], max(ts[i], ts[j]) - ts[0]
        pa, pb = n - 1 - a, n - 1 - b
        first, second = (pa, pb) if ts[i] <= ts[j] else (pb, pa)
        gap = high - low
        # ∫ u^first/first! (u + gap)^second/second! du from 0 to low
        total = mp.mpf(0)
        for k in range(second + 1):
            total += mp.binomial(second, k) * gap ** (second - k) * low ** (first + k + 1) / (first + k + 1)
        return q * total / (mp.factorial(first) * mp.factorial(second))

    k = mp.matrix(steps, steps)
    x = mp.matrix(steps, n)
    for i in range(steps):
        for j in range(steps):
            k[i, j] = prior(i, 0, j, 0) + (r if i == j else 0)
        for a in range(n):
            x[i, a] = (ts[i] - ts[0]) ** a / mp.factorial(a)
    vi = k ** -1
    c = (x.T * vi * x) ** -1
    y = mp.matrix([mp.mpf(float(v)) for v in data])
    b = c * (x.T * vi * y)
    rest = vi * (y - x * b)
    out = []
    for i in range(steps):
        row = []
        for a in (0, 1):
            g = mp.matrix([[prior(i, a, j, 0) for j in range(steps)]])
            xa = mp.matrix([[(ts[i] - ts[0]) ** (m - a) / mp.factorial(m - a) if m >= a else 0 for m in range(n)]])
            left = xa - g * vi * x
            state = (xa * b + g * rest)[0]
            var = (mp.matrix([[prior(i, a, i, a)]]) - g * vi * g.T + left * c * left.T)[0]
            row += [state, var]
        out.append([float(v) for v in row])
    return out


with open(HERE / "smoother.csv", "w") as out:
    out.write("how,states,drive,row,speed,speed_variance,acceleration,acceleration_variance\n")
    for n, q in [(2, 2.5), (3, 40.0)]:
        model = Chain(y, n, DT, q, SIGMA**2)
        found = model.smooth([])
        for row in range(0, N, 13):
            s, c = found.smoothed_state[:, row], found.smoothed_state_cov[:, :, row]
            out.write(f"statsmodels,{n},{q},{row},{s[0]:.15g},{c[0, 0]:.15g},{s[1]:.15g},{c[1, 1]:.15g}\n")
        part = keep[:60]
        for row, found in enumerate(plain(t[part], y[part], n, q, SIGMA**2)):
            if row % 4 == 0:
                out.write(f"dense,{n},{q},{row}," + ",".join(f"{v:.15g}" for v in found) + "\n")

    # Maximum of the diffuse likelihood over both noise levels.
    from scipy.optimize import minimize

    for n in (2, 3):
        def cost(p, n=n):
            return -Chain(y, n, DT, np.exp(p[0]), np.exp(p[1])).loglike([])

        best = minimize(cost, [np.log(10.0), np.log(SIGMA**2)], method="Nelder-Mead",
                        options=dict(xatol=1e-7, fatol=1e-9, maxiter=4000))
        out.write(f"maximum,{n},{np.exp(best.x[0]):.10g},-1,{np.sqrt(np.exp(best.x[1])):.10g},0,0,0\n")

print("mpmath", mp.__version__, "numpy", np.__version__, "scipy", scipy.__version__, "statsmodels", statsmodels.__version__)
