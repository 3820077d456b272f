"""Say when to begin to strike a set, and on what ground.

Computes: the wind at which the first part reaches the low end of its strength, less the rise while striking; what goes
    next were that part stronger, and how strong it would have to be.
Units: metres a second.
Source: the rise while striking, the cap on defaults and what counts as governing are project rules, no source.
Limits: from loads without flogging or breaking seas. Never above 30 kn unless every governing strength is declared: a
    part governs if its limit is within half as much again of the first one's, or if its strength is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from canvas.strength.parts import MOST_UNDECLARED, PartLoad

RISE = 1.2  # wind at the end of striking over that at its start
GOVERNS = 1.5  # limits within this of the first govern: default strengths range twofold
WORTH_WHILE = 1.1  # times the wind at which to strike from which a stronger part is worth telling


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strike:
    """When to begin to strike.

    Attributes
    ----------
    at : float or None
        Mean wind at the instrument [m/s]; None where nothing is up, no limit is known, or the cloth found no rest.
    first : PartLoad or None
        What reaches its strength first.
    declared : bool
        Whether every strength that governs was declared.
    governing, unknown : tuple of str
        Parts whose limits decide, and those that carry but whose strength is not known.
    solved : bool
        Whether every panel came to rest in both cases.
    """

    at: float | None
    first: PartLoad | None
    declared: bool
    governing: tuple[str, ...]
    unknown: tuple[str, ...]
    solved: bool


def strike(parts: Sequence[PartLoad], *, solved: bool) -> Strike:
    """Return when to begin to strike.

    Parameters
    ----------
    parts : sequence of PartLoad
    solved : bool
        Whether every panel came to rest in both cases; if not, a part that is not in `parts` may go first.
    """
    known = [part for part in parts if part.limit_low is not None]
    unknown = tuple(part.name for part in parts if part.strength is None and part.load > 0.0)
    first = min(known, key=lambda part: part.limit_low or 0.0, default=None)
    if first is None or first.limit_low is None:
        return Strike(at=None, first=None, declared=False, governing=(), unknown=unknown, solved=solved)
    governing = [part for part in known if (part.limit_low or 0.0) <= GOVERNS * first.limit_low]
    declared = not unknown and all(part.strength is not None and part.strength.declared for part in governing)
    at = first.limit_low / RISE
    if not declared:
        at = min(at, MOST_UNDECLARED)
    return Strike(
        at=at if solved else None, first=first, declared=declared, governing=tuple(part.name for part in governing),
        unknown=unknown, solved=solved,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stronger:
    """What comes of making what goes first stronger, and all of its sort.

    Attributes
    ----------
    part : PartLoad
        What goes next.
    at : float
        When to begin to strike then [m/s].
    carries : float
        What each of the first sort must carry for that [N].
    """

    part: PartLoad
    at: float
    carries: float


def made_stronger(parts: Sequence[PartLoad], when: Strike) -> Stronger | None:
    """Return what comes of making what goes first stronger; None where nothing is known to, or that hardly helps.

    Parameters
    ----------
    parts : sequence of PartLoad
    when : Strike
        As `strike` has it of these parts.
    """
    if when.at is None or when.first is None:
        return None
    first = [part for part in parts if part.sort == when.first.sort]
    then = strike([part for part in parts if part.sort != when.first.sort], solved=when.solved)
    if then.at is None or then.first is None or then.at < WORTH_WHILE * when.at:
        return None
    return Stronger(part=then.first, at=then.at, carries=max(part.load_at(RISE * then.at) for part in first))
