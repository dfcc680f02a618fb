# %% [markdown]
# # The range to promise for planned work, and how it follows the weather
# Run from the top of the repository: `python docs/python/quote.py`.

# %%
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pullcast

shop = "scenarios/manual_coupe"
fitted, _ = pullcast.fit(pullcast.Car(f"{shop}/car.toml"), [f"{shop}/baseline.toml"])
work = pullcast.Plan(f"{shop}/plan_breathing.toml")
quote = pullcast.quote(fitted, work)
print(quote)

# %% [markdown]
# The curve after the work, W over rpm: nine pulls in ten lie between the outer columns.

# %%
curve = quote.to_pandas("curve")
print(curve.filter(["rpm", "after_w.p5", "after_w.p50", "after_w.p95"]).to_string(index=False))

# %% [markdown]
# The most likely peak after the work in forty airs, asked from several threads: the interpreter's lock is not held.

# %%
kelvin = np.linspace(263.15, 308.15, 40)


def peak_w(temperature_k: float) -> float:
    air = pullcast.Air(station_pressure_pa=98_000.0, temperature_k=temperature_k, relative_humidity=0.5)
    return pullcast.predict(fitted, work, weather=air)["peak_power"]["power_w"]


with ThreadPoolExecutor() as pool:
    power_w = np.fromiter(pool.map(peak_w, kelvin), float)
slope = np.polyfit(kelvin, np.log(power_w), 1)[0]
print(f"{100 * slope:+.3f} % of the peak for each kelvin at 98 kPa and 50 % relative humidity")
