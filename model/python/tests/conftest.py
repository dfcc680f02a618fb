"""The demo shop, and the program whose answers the wheel's are held against."""

import os
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]


class Program:
    """The program, run from the top of the repository; PULLCAST names it."""

    def __init__(self, path: str, environment: dict[str, str]) -> None:
        self.path, self.environment = path, environment

    def run(self, *arguments: str) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            [self.path, *arguments], capture_output=True, text=True, cwd=ROOT, env=self.environment, check=False
        )

    def json(self, *arguments: str) -> str:
        done = self.run(*arguments, "--json")
        assert done.returncode == 0, done.stderr
        return done.stdout


@pytest.fixture(scope="session")
def program() -> Program:
    path = os.environ.get("PULLCAST", str(ROOT / "target/release/pullcast"))
    return Program(path, {**os.environ, "COLUMNS": "100"})


@pytest.fixture(autouse=True)
def at_the_top(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files are named as the program names them."""
    monkeypatch.chdir(ROOT)
