# %% [markdown]
# # What the hours of a weather station do to a reading
# Run from the top of the repository: `python docs/python/spread.py`. The station of the demo shop is invented.

# %%
import pandas as pd
import pullcast

shop = "scenarios/manual_coupe"
question = pullcast.Spread(
    pullcast.Car(f"{shop}/car.toml"),
    pullcast.Plan(f"{shop}/plan_breathing.toml"),
    station="scenarios/upland_estate/station_year.csv",
    draws=400,
    hours=(8, 18),
)
answer = question.answer()
print(answer)

# %% [markdown]
# Peak power, W, by month and hour of the day.

# %%
cells = answer.to_pandas("by_month_and_hour")
print((cells.pivot(index="month", columns="hour", values="mean_w") / 1e3).round(1).to_string())

# %% [markdown]
# Every sample, for questions of one's own: what ten kelvin do to this car, all else as it comes.

# %%
samples = pd.DataFrame(question.samples())
decade = (samples["temperature_after_k"] // 10 * 10).rename("temperature_k")
print(samples.groupby(decade)["power_after_w"].describe().round(0).to_string())
