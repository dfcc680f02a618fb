"""Predicts what a car will read on an inertia chassis dynamometer after a planned build.

Every number is in SI with its unit in its name (`power_w`, `torque_nm`, `temperature_k`, `station_pressure_pa`); engine speeds are in rpm,
angles in degrees, shares and humidities from 0 to 1. Files are the program's: they may use any unit. The interpreter's lock is released
while the library works, so questions may be asked from several threads.
"""

from collections.abc import Iterator, Sequence
from os import PathLike
from typing import Any, Literal, final

import numpy as np
import numpy.typing as npt

__all__ = [
    "__version__",
    "Air",
    "Answer",
    "Car",
    "FileError",
    "Plan",
    "PullcastError",
    "PullcastWarning",
    "Spread",
    "diagnose",
    "fit",
    "predict",
    "quote",
    "spread",
]

__version__: str

_Path = str | PathLike[str]

class PullcastError(Exception):
    """There is no answer; the text says why, in the words of the program."""

class FileError(PullcastError):
    """A file holds bad data, is missing or cannot be written."""

    problems: list[dict[str, Any]]
    """One dict for each: code, severity, file, line, column (both from 1), value, message, expected, help."""

class PullcastWarning(UserWarning):
    """What to mind of a file that could be read."""

@final
class Car:
    """A car on its drums, every number with its doubt."""

    def __new__(cls, path: _Path, *, shop: _Path | None = None) -> Car:
        """Reads a car file, as filled in or as written by a fit.

        `shop` names a shop's profile, whose rig, fuel, repeatability and usual correction are then taken; none is looked for.
        Raises FileError with every mistake of the file at its line.
        """

    @property
    def name(self) -> str:
        """Its name."""

    @property
    def is_fitted(self) -> bool:
        """Whether its numbers come from a fit."""

    def save(self, path: _Path, *, overwrite: bool = False) -> None:
        """Writes the car as the fit knows it: the shop's own file with its numbers replaced. Only for a car that `fit` returned."""

@final
class Plan:
    """Planned work, read from a plan file."""

    def __new__(cls, path: _Path) -> Plan: ...
    @property
    def name(self) -> str:
        """Its name."""

@final
class Air:
    """The air of a pull."""

    def __new__(
        cls, *, station_pressure_pa: float, temperature_k: float, relative_humidity: float, name: str = "stated"
    ) -> Air:
        """Station pressure in Pa, absolute and not reduced to sea level, 40e3 to 120e3; temperature in K, 213.15 to 343.15; relative humidity, 0 to 1."""

    @staticmethod
    def read(path: _Path) -> Air:
        """Reads a weather file."""

    @property
    def station_pressure_pa(self) -> float:
        """Station pressure, Pa."""

    @property
    def temperature_k(self) -> float:
        """Temperature, K."""

    @property
    def relative_humidity(self) -> float:
        """Relative humidity, 0 to 1."""

@final
class Answer:
    """What was answered: a mapping, as the program's JSON has it. `print(answer)` shows what the program prints."""

    @property
    def json(self) -> str:
        """The document that the program prints with `--json`, byte for byte."""

    def __getitem__(self, key: str, /) -> Any: ...
    def __len__(self) -> int: ...
    def __contains__(self, key: str, /) -> bool: ...
    def __iter__(self) -> Iterator[str]: ...
    def keys(self) -> list[str]:
        """Names of its parts."""

    def to_dict(self) -> dict[str, Any]:
        """All of it as dicts, lists and numbers."""

    def arrays(self, path: str) -> dict[str, npt.NDArray[np.float64] | list[Any]]:
        """The rows under a key, `"points"` or `"fit.bands"`, as columns: float64 arrays of numbers (NaN where there is none), lists of anything else.

        A key of a row that holds keys of its own gives columns like `after_w.p50`. Ready for `pandas.DataFrame(...)` or, speed by speed,
        for `xarray.Dataset({name: ("rpm", column) ...})`.
        """

    def to_pandas(self, path: str) -> Any:
        """The same as a pandas DataFrame; needs pandas."""

def predict(
    car: Car,
    plan: Plan | None = None,
    *,
    weather: Air | None = None,
    standard: str | None = None,
    mechanical_efficiency: float | None = None,
    charge: float | None = None,
    electric_axle: bool | None = None,
    pulls: int | None = None,
    rest_s: float | None = None,
    within_share: float | None = None,
) -> Answer:
    """The most likely pull, engine speed by engine speed, without a range.

    `weather`: the air; 99 kPa dry at 25 °C if left out. `standard`: correction in which figures are stated too, by the program's names
    ("sae-j1349", "iso-1585", ...). `mechanical_efficiency`: 0.3 to 1, for standards that ask for it. `charge`: of the battery of an electric axle
    at the start, 0 to 1. `pulls`: so many in a row, 2 to 100, `rest_s` seconds apart; `within_share`: how near to the first one more must come.
    """

def fit(car: Car, visits: Sequence[_Path], *, accept_misfit: bool = False) -> tuple[Car, Answer]:
    """Calibrates a car on the measured pulls of visit files: the fitted car, and an account of the fit.

    Raises PullcastError where the file does not describe the car that was measured, unless `accept_misfit`.
    """

def quote(
    car: Car,
    plan: Plan | None = None,
    *,
    visits: Sequence[_Path] = ...,
    weather: Air | None = None,
    standard: str | None = None,
    mechanical_efficiency: float | None = None,
    hoped_w: float | None = None,
    draws: int | None = ...,
    seed: int = 1,
    accept_misfit: bool = False,
) -> Answer:
    """The range to promise for planned work; without a plan, for the car as it stands.

    With visits the car is fitted to them first; the last of them is the reading before. `weather`: the air of the pull after the work; that of
    the last visit if left out. `hoped_w`: a peak power in W whose chance to be missed is told. `draws`: 50 to 100 000; as many as keep the ends of the range still, if left out. Nothing is learned
    from a job book. The same seed gives the same bytes.
    """

def diagnose(
    car: Car,
    odd: _Path,
    *,
    good: Sequence[_Path] = ...,
    pull: int | None = None,
    same_strapping: bool = False,
    same_air: bool = False,
) -> Answer:
    """Why one pull of a visit looks wrong: causes with their chances and sizes, and the next measurement.

    `good`: visits to judge it against; not needed with a fitted car. `pull`: which of the visit's, from 1. `same_strapping`: the car stayed on the
    drums since the good pulls; `same_air`: the room's air is theirs.
    """

@final
class Spread:
    """A question of many draws: cars, works, drums and hours of a weather station, drawn from what is in doubt.

    Draws are numbered and each has random numbers of its own, so it does not matter which machine makes them: `part` works out one shard
    of how many, `join` makes of all of them the answer that `answer` gives, to the last byte.
    """

    def __new__(
        cls,
        car: Car,
        plan: Plan | None = None,
        *,
        station: _Path,
        elevation_m: float | None = None,
        pressure: Literal["station", "sea-level", "altimeter"] | None = None,
        utc_offset_min: int | None = None,
        months: tuple[int, int] = ...,
        hours: tuple[int, int] = ...,
        cell_k: float | None = None,
        two_days: bool = False,
        charge: float | None = None,
        promise_w: float | None = None,
        chance: float = 0.9,
        quantiles: Sequence[float] = ...,
        standard: str | None = None,
        mechanical_efficiency: float | None = None,
        draws: int = ...,
        hours_per_draw: int | Literal["all"] | None = None,
        full_pulls: bool = False,
        seed: int = 1,
    ) -> Spread:
        """`station`: a table of hours. `elevation_m`, `pressure`, `utc_offset_min`: what its file does not say. `months`, 1 to 12, first and last, and
        `hours` of business, 0 to 24, from and up to; all if left out. `cell_k`: a heated or cooled cell, 253.15 to 323.15 K. `two_days`: before and after on two days.
        `charge`: of a battery, 0 to 1. `promise_w`: a peak power, uncorrected, in W, whose chance to be missed is told. `chance`: with which the number to
        promise is read, 0.01 to 0.99. `quantiles`: further shares below. `draws`: 100 to 1 000 000, 400 if left out. `full_pulls`: no response surface.
        """

    @property
    def name(self) -> str:
        """That of everything which decides what its draws come to; it stands in the names of the program's files of parts."""

    def answer(self) -> Answer:
        """All draws, and the answer."""

    def samples(self) -> dict[str, npt.NDArray[Any]]:
        """Every sample as named arrays: `draw`, and of the readings before and after `power_before_w`, `power_after_w`, `torque_after_nm`,
        `station_pressure_after_pa`, `temperature_after_k`, `humidity_ratio_after`, `month_after`, `hour_after` and the like."""

    def part(self, number: int, of: int) -> bytes:
        """Works out one part, counted from 1: what its draws come to, for `join`. It is the file that the program keeps with `--keep`."""

    def join(self, parts: Sequence[bytes]) -> Answer:
        """The answer from all parts, in any order; each has to be there once."""

def spread(car: Car, plan: Plan | None = None, **asked: Any) -> Answer:
    """How far readings spread through the hours of a weather station, and why: `Spread(car, plan, ...).answer()`."""
