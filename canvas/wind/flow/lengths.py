"""Foretell over what way each set at a fine angle has to be averaged for the wind at the blade to have a verdict.

Computes: times the usual way, by set, that are foretold to settle most sets at the least cost.
Units: times the usual way; ratios.
Source: none; a mean's standard error falls with the root of the way, as it does once that is long beside the eddies.
Limits: a wake that comes and goes slowly is drawn worse than foretold; what the cells leave open stays.
"""

from __future__ import annotations

from collections.abc import Mapping

from canvas.wind.blade import WIDEST, Felt, draws, half_width, place_of

MOST = 6  # times the usual way; whole ones
FASTER = 2  # by how much a mean is lengthened at once: what it foretells may be off by more than what it has shown


def lengthened(felt: Mapping[str, Felt], times: Mapping[str, int], *, cell: float) -> dict[str, int]:
    """Return over how many times the usual way to average each set next; as now where no more can be settled.

    Parameters
    ----------
    felt : mapping of str to Felt
        By set, the bare boat first.
    times : mapping of str to int
        Over how many times the way each was averaged.
    cell : float
        Finest [m].
    """
    bare, *others = felt
    drawn = {name: _drawn(felt[name], felt[bare], cell) for name in others}
    plans = [_plan(drawn, times, bare=bare, bare_times=long) for long in range(times[bare], MOST + 1)]
    _, plan = max(plans, key=lambda one: (one[0], -sum(one[1].values())))
    return {name: min(long, FASTER * times[name]) for name, long in plan.items()}


def _drawn(canvas: Felt, bare: Felt, cell: float) -> tuple[float, float, float]:
    """Return the squares of what both draws add to the speed ratio, and of what they may add for a verdict."""
    of_set, of_bare = draws(canvas, bare)
    return of_set**2, of_bare**2, WIDEST**2 - half_width(place_of(canvas, bare), cell) ** 2


def _plan(
    drawn: Mapping[str, tuple[float, float, float]], times: Mapping[str, int], *, bare: str, bare_times: int
) -> tuple[int, dict[str, int]]:
    """Return how many sets have a verdict with the bare boat averaged over so many times the way, and all lengths."""
    plan, settled = {bare: bare_times}, 0
    for name, (of_set, of_bare, room) in drawn.items():
        left = room - of_bare * times[bare] / bare_times
        needed = [n for n in range(times[name], MOST + 1) if of_set * times[name] / n <= left]
        plan[name] = needed[0] if needed else times[name]
        settled += bool(needed)
    return settled, plan
