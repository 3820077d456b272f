"""Write the record of `life`.

Computes: nothing; picks from results.
Units: as the keys end; years.
Source: none.
Limits: a life is null where no ultraviolet reaches the sewing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.materials.sewn_life import SewnPart

NAMED = 3  # parts worth a cover that a sentence names


def life_record(answer: Answer) -> Record:
    """Return the record of `life`: the new sewing of each home set, shortest life first."""
    sets = {name: _lives(found, latitude=answer.top) for name, found in answer.results.items()}
    top = {"latitude_deg": float(np.degrees(answer.top))}
    return envelope("life", answer.source, sets=sets, top=top, problems=answer.problems)


def _lives(found: Sequence[SewnPart], *, latitude: float) -> Record:
    ordered = sorted(found, key=lambda one: (one.life_low is None, one.life_low or 0.0, one.panel, one.name))
    return {"sentence": _sentence(ordered, latitude), "sewn": [_part(one) for one in ordered]}


def _part(one: SewnPart) -> Record:
    return {
        "name": f"{one.panel}, {one.name}",
        "what": one.what,
        "uv_of_deck_share": one.relative,
        "uv_of_deck_share_low": one.relative_low,
        "uv_of_deck_share_high": one.relative_high,
        "ends_by": one.ends,
        "life_years": one.life,
        "life_years_low": one.life_low,
        "life_years_high": one.life_high,
        "cover": one.cover,
    }


def _sentence(found: Sequence[SewnPart], latitude: float) -> str:
    if not found:
        return "No new sewing stands in this set."
    first = found[0]
    if first.life_low is None or first.life_high is None:
        return "No ultraviolet reaches its sewing."
    what = "Renew" if first.ends == "window" else "Sew again"
    half = "N" if latitude >= 0 else "S"
    said = (
        f"{what} first: {first.panel}, {first.name}, after {first.life_low:.1f} to {first.life_high:.1f} years always "
        f"up at {abs(np.degrees(latitude)):.0f} {half}; sooner where it chafes. Common practice, no source."
    )
    worth = [f"{one.panel} {one.name}" for one in found if one.cover]
    more = len(worth) - NAMED
    if worth:
        tail = f" and {more} more" if more > 0 else ""
        said += f" Worth a cover strip: {', '.join(worth[:NAMED])}{tail}."
    return said
