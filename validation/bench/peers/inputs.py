"""A car as the library wrote it (`inputs.rs`), for peers that call plain Python and for peers that compile it."""

import json
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np


@dataclass
class Car:
    """The constants under their names, and the tables in the order in which the equations take them."""

    constants: dict[str, float]
    humps: Any
    tables: tuple[Any, ...]
    from_rpm: float
    to_rpm: float
    curve: dict[str, Any]

    def plain(self) -> SimpleNamespace:
        """The constants as an object; a plain interpreter reads its numbers fastest so."""
        return SimpleNamespace(**self.constants)

    def record(self) -> Any:
        """The same as a record that Numba reads by name."""
        record = np.zeros(1, dtype=[(name, np.float64) for name in self.constants])
        for name, value in self.constants.items():
            record[name] = value
        return record[0]


def read(path: str) -> Car:
    document = json.loads(Path(path).read_text(encoding="utf-8"))
    knock = document["knock"]
    tables = (
        np.array(document["efficiency"]),
        np.moveaxis(np.array(knock["integral"]).reshape(6, 5, 13), 2, 0).copy(),
        np.array(knock["slope"]),
        np.moveaxis(np.array(knock["peak"]).reshape(6, 5, 13), 2, 0).copy(),
        np.array(knock["motored"]),
    )
    rows = document["curve"]
    curve = {name: np.array([row[name] for row in rows]) for name in rows[0]}
    return Car(document["constants"], np.array(document["humps"]), tables, document["from_rpm"], document["to_rpm"], curve)
