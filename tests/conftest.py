"""Read published tables for tests, prove that tests on them can fail, and hold every test to one kind."""

from __future__ import annotations

import csv
import os
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

for _library in ("OPENBLAS", "OMP", "MKL"):  # as the command line does, before numpy is loaded
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

# Results kept on disk by one run must not reach the next, nor the worker beside it.
_KEPT = tempfile.TemporaryDirectory(prefix="canvas-tests-")
os.environ["CANVAS_CACHE"] = _KEPT.name

settings.register_profile("steady", deadline=None, derandomize=True, database=None)
settings.load_profile("steady")  # the same draws each time, and no failing because the machine is busy

KINDS = {"published", "analytic", "property", "regression", "behaviour"}
PUBLISHED = Path(__file__).parent / "published"


@dataclass(frozen=True)
class Table:
    """One published table: its rows, and how far each checked column may be missed."""

    rows: list[dict[str, Any]]
    tolerances: dict[str, float]
    about: dict[str, Any]

    def tolerance(self, column: str) -> float:
        """Return the absolute tolerance of a checked column."""
        return self.tolerances[column]


def read_table(name: str, *, spoilt: int = 0) -> Table:
    """Read tests/published/NAME.csv and .toml; `spoilt` moves every checked column by that many tolerances.

    The .toml names the columns that tests compare in a table `[checked]`: column = absolute tolerance,
    or column = "0.5 %" for a share of the value.
    """
    about = tomllib.loads((PUBLISHED / f"{name}.toml").read_text(encoding="utf-8"))
    checked = about["checked"]
    with (PUBLISHED / f"{name}.csv").open(newline="", encoding="utf-8") as stream:
        rows = [{key: _value(text) for key, text in row.items()} for row in csv.DictReader(stream)]
    absolute = {key: float(value) for key, value in checked.items() if not isinstance(value, str)}
    for row in rows:
        for column, value in checked.items():
            if isinstance(row.get(column), float):
                width = abs(row[column]) * float(value.rstrip("% ")) / 100 if isinstance(value, str) else float(value)
                row[column] += spoilt * width
    shares = {key: float(value.rstrip("% ")) / 100 for key, value in checked.items() if isinstance(value, str)}
    return Table(rows=rows, tolerances={**absolute, **shares}, about=about)


def _value(text: str) -> Any:
    if text == "":
        return None
    try:
        return float(text)
    except ValueError:
        return text


@pytest.fixture
def published(request: pytest.FixtureRequest) -> Any:
    """Return the reader of published tables; each test runs as printed and spoilt by ten tolerances both ways."""
    spoilt = getattr(request, "param", 0)
    return lambda name: read_table(name, spoilt=spoilt)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run each test on a published table three times; the spoilt ones must fail."""
    if "published" in metafunc.fixturenames:
        must_fail = pytest.mark.xfail(strict=True, raises=AssertionError, reason="spoilt by ten tolerances")
        metafunc.parametrize(
            "published",
            [0, pytest.param(10, marks=must_fail), pytest.param(-10, marks=must_fail)],
            indirect=True,
            ids=["as printed", "spoilt up", "spoilt down"],
        )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Refuse a test that is not of exactly one kind; begin with whole boats, whose files take longest."""
    items.sort(key=lambda item: "whole" not in item.path.parts)
    for item in items:
        kinds = KINDS & {mark.name for mark in item.iter_markers()}
        if len(kinds) != 1:
            raise pytest.UsageError(
                f"{item.nodeid}: carries {sorted(kinds) or 'no'} kind marks, wanted exactly one of {sorted(KINDS)}"
            )
