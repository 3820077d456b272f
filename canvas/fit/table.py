"""Examine a set by every check, in one order, and say what fails first.

Computes: the results of all checks of a set.
Units: as the results say.
Source: the modules in canvas/fit/checks.
Limits: each check looks at its own question only.

To add a check: write one module in canvas/fit/checks with a function `examine(ask) -> list[CheckResult]`, and put its
name in `CHECKS`, whose order is the report's.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Protocol, cast

from canvas.cloth.rigging import Rigging
from canvas.fit.result import CheckResult
from canvas.jobs.shelf import Derived, from_shelf

if TYPE_CHECKING:
    from canvas.fit.ask import Ask

CHECKS: tuple[str, ...] = (
    "headroom",
    "loose_bows",
    "eye_at_edge",
    "look_out",
    "sails_seen",
    "lights",
    "winches",
    "booms",
    "lines",
    "steering",
    "vane_swing",
    "ways_out",
    "fittings",
    "solar",
    "ponding",
    "handled",
)


class Check(Protocol):
    """What a module in canvas/fit/checks offers."""

    def examine(self, ask: Ask) -> list[CheckResult]:
        """Return the check's results for one set."""


def check_set(rigging: Rigging, set_name: str) -> tuple[CheckResult, ...]:
    """Return every check of one set, in the report's order.

    Parameters
    ----------
    rigging : Rigging
    set_name : str

    Raises
    ------
    CouldNot
        When a panel has no shape in balance.
    """
    return from_shelf(rigging.shelf, _checked, rigging.whole(), set_name)


def _checked(boat: Derived[Rigging], set_name: str) -> tuple[CheckResult, ...]:
    from canvas.fit.ask import Ask  # with all that checks stand on, for which results that are kept do not wait

    ask = Ask(boat.make(), set_name)
    return tuple(result for name in CHECKS for result in check_named(name).examine(ask))


def check_named(name: str) -> Check:
    """Return the module of a check."""
    return cast(Check, import_module(f"canvas.fit.checks.{name}"))


def first_to_fail(results: Sequence[CheckResult]) -> CheckResult | None:
    """Return the failing check that misses its limit by the greatest share of it; None where none fails."""
    failing = [one for one in results if one.verdict == "fail" and one.margin is not None and one.limit is not None]
    return min(failing, key=lambda one: (one.margin or 0.0) / max(abs(one.limit or 0.0), 1e-3), default=None)
