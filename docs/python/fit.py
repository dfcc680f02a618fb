# %% [markdown]
# # Fit a car to measured pulls
# Run from the top of the repository: `python docs/python/fit.py`. Cells are marked as editors and notebooks read them.

# %%
import pullcast

shop = "scenarios/manual_coupe"
car = pullcast.Car(f"{shop}/car.toml")
fitted, account = pullcast.fit(car, [f"{shop}/baseline.toml"])
print(account)

# %% [markdown]
# What was believed before, what is believed now, and how far the pulls told it.

# %%
learnt = account.to_pandas("learnt")
print(learnt.head(12).to_string())

# %% [markdown]
# Where the fitted car still misses the pulls: mean and root mean square of measured over computed power, less one, in bands of engine speed, rpm.

# %%
bands = account.to_pandas("bands")
print(bands.to_string(index=False))

# %%
# fitted.save("fitted.toml")   # the shop's own file with its numbers replaced
