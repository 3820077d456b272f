"""Choose the fastening of each panel that is to break before a hoop bends, and say where the loose cloth can reach.

Computes: the range of strengths that lets cloth go after one should have begun to strike and before any hoop yields;
    how far loose cloth reaches from the forward edge it stays on, against the vane's blade and the water.
Units: newtons, metres, metres a second.
Source: loads and limits by `canvas.strength`; that cloth stays by its forward edge is a project rule.
Limits: a length from the forward edge, straight: cloth that wraps round what stands between reaches less. The
    propeller is not in the design: cloth that cannot reach the water cannot reach it; cloth that can is said to. Zips,
    pockets and bolt ropes do not let go cleanly and are no weak links.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from canvas.cloth.lines import locate
from canvas.cloth.rigging import Rigging
from canvas.cloth.shape import PanelShape
from canvas.design.schema.rig import Panel
from canvas.design.tables import finishes
from canvas.geometry.hull import deck_edges
from canvas.geometry.surface import Floats
from canvas.geometry.vane import leaned
from canvas.strength.parts import PartLoad
from canvas.strength.strike import Strike

LETS_GO = ("press stud", "twist stud", "lacing eye", "lashing eye", "hook and loop 50")
LEANS = 7  # of the blade through its swing
STATIONS = 60  # along the deck edge


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeakLink:
    """The weak link of one panel.

    Attributes
    ----------
    panel : str
    part : str or None
        The fastening that should break, away from the forward edge; None where none can.
    breaks_low, breaks_high : float or None
        Strength it should have: above what it carries when one begins to strike, below what it carries when the first
        hoop bends [N].
    hoop : str or None
        That hoop.
    stays_by : str or None
        The forward edge.
    reach : float or None
        Farthest cloth from the forward edge, ties included [m].
    to_vane, to_water : float or None
        From the forward edge to the nearest of the blade's swing, and over the side to the water [m].
    verdict : str
        ``pass`` where the link can be made and the cloth reaches neither; ``fail`` where it reaches; else ``unknown``.
    why : str
    """

    panel: str
    part: str | None
    breaks_low: float | None
    breaks_high: float | None
    hoop: str | None
    stays_by: str | None
    reach: float | None
    to_vane: float | None
    to_water: float | None
    verdict: Literal["pass", "fail", "unknown"]
    why: str


def weak_links(rigging: Rigging, set_name: str, parts: Sequence[PartLoad], when: Strike) -> tuple[WeakLink, ...]:
    """Return the weak link of each panel of a set that is new: what is aboard already is fastened as it is.

    Parameters
    ----------
    rigging : Rigging
    set_name : str
    parts : sequence of PartLoad
        Of the set.
    when : Strike
    """
    bending = [part for part in parts if part.kind == "tube" and part.limit_low is not None]
    hoop = min(bending, key=lambda part: part.limit_low or 0.0, default=None)
    design = rigging.model.design
    found = []
    for shape in rigging.rig(set_name).formed.panels:
        spec = design.panel_named(shape.name)
        if not spec.existing:
            mine = [part for part in parts if part.panel == shape.name]
            found.append(_of_panel(rigging, shape, parts=mine, hoop=hoop, when=when))
    return tuple(found)


def _of_panel(
    rigging: Rigging, shape: PanelShape, *, parts: Sequence[PartLoad], hoop: PartLoad | None, when: Strike
) -> WeakLink:
    spec = rigging.model.design.panel_named(shape.name)
    forward = _forward_edge(spec, shape)
    if forward is None:
        why = "No edge holds it: it would blow away whole. Hang it by a held forward edge."
        return _none(shape.name, hoop, why, verdict="fail")
    line = shape.vertices[shape.edge_vertices[forward]]
    reach = float(locate(line, shape.vertices)[1].max()) + max([tie.length or 0.0 for tie in spec.ties], default=0.0)
    to_vane, to_water = _to_vane(rigging, line), _to_water(rigging, line)
    near = [name for name, room in (("the vane's blade", to_vane), ("the water, and so the propeller", to_water))
            if reach >= room]  # fmt: skip
    edge = shape.edges[forward].name
    link, low, high, said = _chosen(parts, edge, hoop, when)
    made = link is not None and low is not None
    verdict: Literal["pass", "fail", "unknown"] = "fail" if near else "pass" if made else "unknown"
    where = (
        f"Loose on its {edge} edge it reaches {reach:.2f} m: " + (f"{' and '.join(near)} too." if near else "neither "
        "vane nor water.")
    )  # fmt: skip
    return WeakLink(
        panel=shape.name, part=None if link is None else link.name, breaks_low=low, breaks_high=high,
        hoop=None if hoop is None else hoop.name, stays_by=edge, reach=reach, to_vane=to_vane, to_water=to_water,
        verdict=verdict, why=f"{said} {where}",
    )  # fmt: skip


def _none(panel: str, hoop: PartLoad | None, why: str, *, verdict: Literal["fail", "unknown"]) -> WeakLink:
    return WeakLink(
        panel=panel, part=None, breaks_low=None, breaks_high=None, hoop=None if hoop is None else hoop.name,
        stays_by=None, reach=None, to_vane=None, to_water=None, verdict=verdict, why=why,
    )  # fmt: skip


def _chosen(
    parts: Sequence[PartLoad], forward: str, hoop: PartLoad | None, when: Strike
) -> tuple[PartLoad | None, float | None, float | None, str]:
    """Return the fastening that should break, between which loads, and a sentence."""
    able = [part for part in parts if part.edge != forward and _lets_go(part)]
    if not able:
        return None, None, None, "No tie, stud or lacing away from the forward edge: nothing lets go cleanly."
    link = max(able, key=lambda part: part.load)
    if hoop is None or hoop.limit_low is None:
        return link, None, None, "No hoop bends under it."
    if when.at is None:
        return link, None, None, "When to strike is not known, and so not what the link must outlast."
    low, high = link.load_at(when.at), link.load_at(hoop.limit_low)
    if low >= high:
        return link, None, None, f"{hoop.name} goes before one begins to strike: no link goes between."
    advice = f"Let each {link.name} break between {low:.0f} and {high:.0f} N: after one strikes, before {hoop.name}."
    return link, low, high, advice


def _lets_go(part: PartLoad) -> bool:
    return part.kind == "tie" or (part.kind == "edge" and part.name.endswith(LETS_GO))


def _forward_edge(spec: Panel, shape: PanelShape) -> int | None:
    """Return the foremost edge that holds fast: zip, pocket or bolt rope before studs; None where none holds."""
    middles = np.array([shape.vertices[line, 0].mean() for line in shape.edge_vertices])
    held = np.array([edge.kind != "free" for edge in shape.edges])
    fast = held & np.array([finishes()[edge.finish].fastening not in LETS_GO for edge in shape.edges])
    chosen = fast if fast.any() else held
    if chosen.any():
        return int(np.flatnonzero(chosen)[np.argmin(middles[chosen])])
    return int(np.argmin(middles)) if len(spec.ties) >= 2 else None  # an awning lashed forward stays by its lashings


def _to_vane(rigging: Rigging, line: Floats) -> float:
    vane = rigging.model.design.vane
    tip = np.array([0.0, 0.0, vane.height])
    ends = [np.array(vane.foot) + share * (leaned(vane, angle=float(lean)) @ tip)
            for lean in np.linspace(-vane.swing, vane.swing, LEANS) for share in (0.0, 0.5, 1.0)]  # fmt: skip
    return float(locate(line, np.array(ends))[1].min()) - vane.width / 2


def _to_water(rigging: Rigging, line: Floats) -> float:
    """Return the least length from a line over the deck edge down to the water [m]."""
    hull = rigging.model.design.hull
    lengths = []
    for side, edge in zip((-1.0, 1.0), deck_edges(hull), strict=True):
        x = np.linspace(edge.x[0], edge.x[-1], STATIONS)
        over = np.c_[x, side * edge.half_breadth(x), edge.height(x)]
        lengths.append(locate(line, over)[1] + edge.height(x) - hull.waterline)
    return float(np.concatenate(lengths).min())
