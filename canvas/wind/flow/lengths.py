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
    bare = next(iter(felt))
    plans = [_plan(felt, times, bare_times=long, cell=cell) for long in range(times[bare], MOST + 1)]
    _, plan = max(plans, key=lambda one: (one[0], -sum(one[1].values())))
    return {name: min(long, FASTER * times[name]) for name, long in plan.items()}


def _plan(
    felt: Mapping[str, Felt], times: Mapping[str, int], *, bare_times: int, cell: float
) -> tuple[int, dict[str, int]]:
    """Return how many sets have a verdict with the bare boat averaged over so many times the way, and all lengths."""
    bare, *others = felt
    plan, settled = {bare: bare_times}, 0
    for name in others:
        of_set, of_bare = (drawn**2 for drawn in draws(felt[name], felt[bare]))
        cells = half_width(place_of(felt[name], felt[bare]), cell)
        left = WIDEST**2 - cells**2 - of_bare * times[bare] / bare_times
        needed = [n for n in range(times[name], MOST + 1) if of_set * times[name] / n <= left]
        plan[name] = needed[0] if needed else times[name]
        settled += bool(needed)
    return settled, plan
