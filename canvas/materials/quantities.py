"""Take off what a set's new panels need: cloth on the roll, windows, zips, tapes, fastenings, thread, sewing, weight.

Computes: a `TakeOff` for each set that is the home of a new panel, so that sums over sets are totals.
Units: metres, square metres, kilograms.
Source: lengths and areas of the flat parts; spacings, rows and masses of canvas/design/tables; 2.5 m of thread a
    metre of row, common practice, no source.
Limits: parts of one set are nested together; cutting several sets from one roll takes less. Ends of tape and zip are
    not added. A tube, a wire in a hem and their fittings are bought by length, their fittings not counted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from canvas.cutting.finish import Finish, read_finishes
from canvas.cutting.nest import nest, width_problems
from canvas.cutting.part import FlatPart, points_along
from canvas.cutting.result import CutResult, SeamLength
from canvas.design.schema.design import Design
from canvas.design.schema.rig import Panel
from canvas.design.tables import Cloth, fastenings, finishes
from canvas.geometry.surface import Floats
from canvas.geometry.tubes import TubeLine
from canvas.materials.takeoff import ClothBuy, GoodsBuy, PanelSewing, RollLength, TakeOff, ZipBuy
from canvas.materials.tubing import new_tubes
from canvas.survey.mating import mate_of

THREAD = 2.5  # [m] of thread a metre of lockstitch row
WINDOW_ROWS, PATCH_ROWS, FLAP_ROWS = 2, 1, 1  # rows round a window, a patch, along a flap's turned edge


def take_off(
    cut: CutResult,
    design: Design,
    *,
    roll_widths: Mapping[str, float] | None = None,
    tubes: Mapping[str, TubeLine] | None = None,
) -> tuple[TakeOff, ...]:
    """Return what each set's new panels need, in the order of the design's sets.

    Parameters
    ----------
    cut : CutResult
        All new panels cut.
    design : Design
    roll_widths : mapping of str to float, optional
        Chosen roll width by cloth [m]; else the design's ``[shop] roll_width``, else the one that takes least cloth.
    tubes : mapping of str to TubeLine, optional
        Middle lines by name, of which the new ones are bought; none where absent.

    Raises
    ------
    DesignError
        When a part is wider than the roll chosen for it.
    """
    homes = [name for name in design.set_names() if any(part.set_name == name for part in cut.parts)]
    bent = new_tubes(design, tubes or {}, homes=homes)
    return tuple(replace(_of_set(name, cut, design, roll_widths or {}), tubes=bent.get(name, ())) for name in homes)


def _of_set(name: str, cut: CutResult, design: Design, widths: Mapping[str, float]) -> TakeOff:
    parts = [part for part in cut.parts if part.set_name == name]
    panels = list(dict.fromkeys(part.panel for part in parts))
    zips = [
        _zip(seam.panel_a, seam.name.removeprefix(f"{seam.panel_a} to {seam.panel_b}, "), seam.length_a, design)
        for seam in cut.seams
        if seam.kind == "zip" and seam.panel_a in panels
    ]
    joined = {one.name for one in zips}
    zips += [
        _zip(edge.panel, edge.name, edge.length, design)
        for edge in cut.edges
        if edge.panel in panels and _zipped(edge.finish) and f"{edge.panel}: {edge.name}" not in joined
    ]
    counts: dict[str, float] = defaultdict(float)
    work: list[PanelSewing] = []
    for panel in panels:
        own = [part for part in parts if part.panel == panel]
        goods, points = _goods(own, design.panel_named(panel), _own_seams(cut, panel))
        for key, amount in goods.items():
            counts[key] += amount
        sewn = [one for one in zips if one.name.startswith(f"{panel}: ")]
        work.append(_panel(panel, own, cut, design, zips=sewn, goods=goods, points=points))
    return TakeOff(
        set_name=name,
        panels=tuple(work),
        cloth=_cloths(parts, design, widths),
        zips=tuple(zips),
        goods=tuple(_bought(key, amount) for key, amount in sorted(counts.items())),
        thread=THREAD * sum(panel.sewing for panel in work),
    )


def _cloths(parts: Sequence[FlatPart], design: Design, widths: Mapping[str, float]) -> tuple[ClothBuy, ...]:
    known = design.cloths()
    bought = []
    for name in dict.fromkeys(part.cloth for part in parts):
        cloth = known[name]
        cut = [part for part in parts if part.cloth == name for _ in range(part.count)]
        area = sum(part.cut_area for part in cut)
        lengths = roll_lengths(cut, cloth, wanted=widths.get(name, design.shop.roll_width))
        bought.append(
            ClothBuy(
                name=name,
                kind=cloth.kind,
                area=area,
                roll=lengths[0],
                others=tuple(sorted(lengths[1:], key=lambda roll: roll.width)),
                mass=area * cloth.mass,
                parts=len(cut),
            )
        )
    return tuple(bought)


def roll_lengths(parts: Sequence[FlatPart], cloth: Cloth, *, wanted: float | None = None) -> list[RollLength]:
    """Return the roll length that parts take at each width a cloth is sold in, the chosen width first.

    Parameters
    ----------
    parts : sequence of FlatPart
        Of this cloth.
    cloth : Cloth
    wanted : float, optional
        The width chosen [m]; taken only where the cloth is sold in it. Else the width that takes the least cloth.

    Raises
    ------
    DesignError
        When no width takes every part.
    """
    offered = [width for width in cloth.roll_widths if not width_problems(parts, width=width)]
    offered = offered or [max(cloth.roll_widths)]
    laid = [(width, nest(parts, width=width)) for width in offered]
    rolls = [RollLength(width=width, length=layout.length, used=layout.used) for width, layout in laid]
    chosen = [roll for roll in rolls if wanted is not None and abs(roll.width - wanted) < 1e-6]
    first = chosen[0] if chosen else min(rolls, key=lambda roll: (roll.width * roll.length, roll.width))
    return [first, *(roll for roll in rolls if roll is not first)]


def _zip(panel_name: str, edge_name: str, length: float, design: Design) -> ZipBuy:
    panel = design.panel_named(panel_name)
    edge = next((edge for edge in panel.edges if edge.name == edge_name), None)
    mate = next((one for one in design.panel if edge is not None and one.name == edge.along), None)
    mate_edge = next((one for one in mate.edges if edge is not None and one.name == edge.edge), None) if mate else None
    there = mate_edge.zip if mate_edge is not None else None
    half = mate_of(there, edge.zip if edge is not None else None)
    existing = bool(mate is not None and mate.existing and mate_edge is not None and _zipped(mate_edge.finish))
    return ZipBuy(
        name=f"{panel_name}: {edge_name}",
        mates=f"{mate.name}: {mate_edge.name}" if mate is not None and mate_edge is not None else "nothing named",
        length=length,
        mates_existing=existing,
        half=half.half,
        gauge=half.gauge,
        tooth=half.tooth,
        slider_end=half.slider_end,
        flap=bool(edge is not None and edge.finish == "zip with flap"),
        mass=fastenings()["zip"].mass * length,
    )


def _zipped(finish: str | None) -> bool:
    return bool(finish and finish.startswith("zip"))


def _own_seams(cut: CutResult, panel: str) -> list[SeamLength]:
    """Return the seams between a panel's pieces and its darts."""
    return [seam for seam in cut.seams if seam.kind == "seam" and seam.panel_a == seam.panel_b == panel]


def _goods(parts: Iterable[FlatPart], panel: Panel, seams: Iterable[SeamLength]) -> tuple[dict[str, float], int]:
    """Return tapes by length and fastenings by number of one panel, and how many points are set."""
    drawn, common = read_finishes(), finishes()
    goods: dict[str, float] = defaultdict(float)
    points = 0
    for part in parts:
        for edge in part.edges:
            finish = common.get(edge.finish)
            if finish is None or edge.seam:
                continue
            if finish.tape is not None:
                goods[finish.tape] += edge.length
            if finish.fastening is not None and finish.fastening != "zip":
                count = len(_points(edge.points, drawn[edge.finish]))
                goods[finish.fastening] += count
                points += count
    for seam in seams:
        tape = common[seam.finish].tape
        if tape is not None:
            goods[tape] += seam.length_a
    for edge_spec in panel.edges:
        if edge_spec.wire:
            goods["wire in hem"] += _edge_length(parts, edge_spec.name)
    for tie in panel.ties:
        goods[tie.kind] += 1
        points += 1
    return dict(goods), points


def _points(points: Floats, finish: Finish) -> Floats:
    return points_along(points, spacing=finish.spacing, inset=finish.inset)


def _edge_length(parts: Iterable[FlatPart], name: str | None) -> float:
    return sum(edge.length for part in parts for edge in part.edges if edge.name == name and not edge.seam)


def _bought(name: str, amount: float) -> GoodsBuy:
    known = fastenings()[name]
    return GoodsBuy(name=name, each=known.each, amount=amount, mass=amount * known.mass)


def _panel(
    name: str,
    parts: Sequence[FlatPart],
    cut: CutResult,
    design: Design,
    *,
    zips: Sequence[ZipBuy],
    goods: Mapping[str, float],
    points: int,
) -> PanelSewing:
    cloths = design.cloths()
    seams = _own_seams(cut, name)
    rows = finishes()
    sewing = sum(rows[seam.finish].rows * seam.length_a for seam in seams)
    sewing += sum(rows[e.finish].rows * e.length for part in parts for e in part.edges if not e.seam)
    sewing += sum(rows["zip"].rows * one.length for one in zips if not one.mates_existing)  # the other half of new zips
    inserts = [insert.name for insert in design.panel_named(name).inserts]
    added = [part for part in parts if not part.edges]
    windows = [part for part in added if any(part.name.endswith(f": {insert}") for insert in inserts)]
    for part in added:
        round_it = _perimeter(part.finished) * part.count
        sewing += round_it * (WINDOW_ROWS if part in windows else PATCH_ROWS if "patch" in part.name else FLAP_ROWS)
    mass = sum(part.cut_area * cloths[part.cloth].mass * part.count for part in parts)
    mass += sum(one.mass for one in zips) + sum(_bought(key, amount).mass for key, amount in goods.items())
    return PanelSewing(
        panel=name,
        parts=sum(part.count for part in parts),
        area=sum(part.area for part in parts if part.edges or part in windows),
        sewing=sewing,
        seams=sum(seam.length_a for seam in seams),
        zips=len(zips),
        windows=len(windows),
        points=points,
        mass=mass + THREAD * sewing * fastenings()["thread"].mass,
    )


def _perimeter(outline: Floats) -> float:
    return float(np.linalg.norm(np.diff(np.vstack([outline, outline[:1]]), axis=0), axis=1).sum())
