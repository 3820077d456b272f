"""Lay out the schedules of the maker's brief: panels, edges, zips, windows, tubes, what must stay clear, acceptance.

Computes: nothing but what a schedule counts.
Units: the design's own.
Source: the design, the formed panels, the cut, the take-off, the records of the checks.
Limits: an edge's standing is that of the worst mark it hangs on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from canvas.brief.blocks import BOX, Block, Bullets, Grid, Heading, Prose
from canvas.brief.known import Standings, edge_known, panel_known
from canvas.brief.tubeschedule import bend_of
from canvas.brief.verdicts import SIGHT_ONLY, best_of_vane
from canvas.cloth.rigging import Rigging
from canvas.cutting.result import CutDart, CutResult, EdgeResult
from canvas.cutting.seamkinds import PLAIN
from canvas.design.schema.base import Vector
from canvas.design.schema.design import AT_ANCHOR, BARE
from canvas.design.schema.rig import Edge
from canvas.design.tables import finishes, word
from canvas.design.units import FOOT, length_text, small_length, small_unit
from canvas.materials.takeoff import TakeOff

WARPS = {"fore and aft": "fore and aft", "athwart": "athwart", "along first edge": "along its first edge"}
ZIPS = (
    "Both sides of a zip equal within {}; measure the half aboard before cutting. No zip carries load round a corner."
)
ZIP_HALVES = 0.003  # how far the two sides of a zip may differ [m]
TYPED = "Sizes and places in this list are assumed, as typed in; check them aboard."
SAID = {"mm": "mm", "in": "inches"}
FITS = {"final": "final", "long": "long by {}", "on board": "patterned on board, cut long by {}"}


def panel_schedule(rigging: Rigging, takes: Sequence[TakeOff]) -> Grid:
    """Return one row a new panel.

    Parameters
    ----------
    rigging : Rigging
    takes : sequence of TakeOff
        One a home set; a panel in none of them has no area and no weight.
    """
    design = rigging.model.design
    work = {panel.panel: panel for take in takes for panel in take.panels}
    rows = []
    for panel in design.panel:
        if panel.existing:
            continue
        made = work.get(panel.name)
        rows.append(
            (
                panel.name,
                panel.cloth or "",
                "either side out" if panel.side_out == "either" else "face out",
                WARPS[panel.warp],
                design.home_set(panel) or "in no set",
                f"{made.area:.2f} m²" if made else "–",
                f"{made.mass:.2f} kg" if made else "–",
            )
        )
    heads = ("panel", "cloth", "side", "warp", "cut for the set", "area", "weight")
    return Grid(heads=heads, rows=tuple(rows), shares=(0.2, 0.19, 0.13, 0.13, 0.15, 0.1, 0.1))


def edge_schedule(rigging: Rigging, cut: CutResult | None, unit: str) -> list[Block]:
    """Return one grid a new panel, one row an edge.

    Parameters
    ----------
    rigging : Rigging
    cut : CutResult or None
        None where nothing was cut: lengths are those of the formed cloth, and assumed.
    unit : str
        In which lengths are said.

    Raises
    ------
    CouldNot
        When a set's canvas has no shape in balance.
    """
    design = rigging.model.design
    results = {(edge.panel, edge.name): edge for edge in cut.edges} if cut is not None else {}
    grids: list[Block] = []
    for panel in design.panel:
        home = design.home_set(panel)
        if panel.existing or home is None:
            continue
        shape = rigging.rig(home).formed.panel(panel.name)
        rows = []
        for spec, formed in zip(panel.edges, shape.edges, strict=True):
            made = results.get((panel.name, formed.name))
            hollow = small_length(formed.hollow, unit) if formed.hollow is not None and formed.hollow > 0.002 else "–"
            length = made.length if made is not None else formed.length
            must = f"± {small_length(_tolerance(spec, formed.finish), unit)}"
            rows.append(
                (
                    formed.name, _lies(spec), formed.finish or "hem", length_text(length, unit), hollow,
                    must, _fit(made, unit), edge_known(rigging, made).said(unit),
                )
            )  # fmt: skip
        heads = ("edge", "lies along", "finish", "finished length", "hollow", "must fit", "how it is cut", "known")
        shares = (0.11, 0.18, 0.13, 0.12, 0.09, 0.11, 0.14, 0.12)
        grids.append(Grid(title=panel.name, heads=heads, rows=tuple(rows), shares=shares))
    return grids


def _lies(edge: Edge) -> str:
    if edge.along is None:
        return f"free, to {edge.to.replace('_', ' ')}" if edge.to else "free"
    return f"{edge.along}, {edge.edge} edge" if edge.edge else edge.along


def _tolerance(edge: Edge, finish: str) -> float:
    known = finishes().get(finish)
    return edge.tolerance or (known.tolerance if known is not None else 0.01)


def _fit(made: EdgeResult | None, unit: str) -> str:
    return "–" if made is None else FITS[made.fit].format(small_length(made.long_by, unit))


def zip_schedule(rigging: Rigging, takes: Sequence[TakeOff], cut: CutResult | None, unit: str) -> list[Block]:
    """Return one row a zip.

    Parameters
    ----------
    rigging : Rigging
    takes : sequence of TakeOff
        One a home set.
    cut : CutResult or None
        None where nothing was cut: every length is assumed.
    unit : str
        In which lengths are said.
    """
    edges = {f"{edge.panel}: {edge.name}": edge for edge in cut.edges} if cut is not None else {}
    rows = tuple(
        (
            one.name, one.mates,
            f"{length_text(one.length, unit)}, {edge_known(rigging, edges.get(one.name)).said(unit)}",
            f"{one.half} half on the new panel" if one.half else "either, decide with the crew",
            ", ".join(part for part in (f"gauge {one.gauge}" if one.gauge else "", one.tooth) if part) or "not said",
            f"slider parks at the {one.slider_end}" if one.slider_end else "not said",
            "half aboard: match it" if one.mates_existing else "both halves new",
        )
        for take in takes
        for one in take.zips
    )  # fmt: skip
    if not rows:
        return [Prose(text="No zips.")]
    heads = ("zip", "mates", "length", "half", "kind", "opens", "other half")
    return [
        Grid(heads=heads, rows=rows, shares=(0.17, 0.16, 0.13, 0.17, 0.12, 0.12, 0.13)),
        Prose(text=ZIPS.format(small_length(ZIP_HALVES, unit))),
    ]


def windows(rigging: Rigging, cut: CutResult | None, unit: str) -> list[Block]:
    """Return the sizes of windows and mesh inserts.

    Parameters
    ----------
    rigging : Rigging
    cut : CutResult or None
        None where nothing was cut: there is no table then.
    unit : str
        In which lengths are said.
    """
    design = rigging.model.design
    inserts = {panel.name: [insert.name for insert in panel.inserts] for panel in design.panel if not panel.existing}
    rows = tuple(
        (
            part.name,
            part.cloth,
            *(length_text(float(size), unit) for size in np.ptp(part.finished, axis=0)),
            str(part.count),
            panel_known(rigging, cut, part.panel).said(unit),
        )
        for part in (cut.parts if cut is not None else ())
        if any(part.name.endswith(f": {name}") for name in inserts.get(part.panel, []))
    )
    if not rows:
        return []
    heads = ("window", "of", "along the warp", "across", "number", "known")
    note = "Store clear sheet flat or rolled loosely, never cold; round every corner."
    return [
        Heading(text="Windows and mesh"),
        Grid(heads=heads, rows=rows, shares=(0.31, 0.18, 0.13, 0.13, 0.09, 0.16)),
        Prose(text=note),
    ]


def seams_and_darts(cut: CutResult | None, unit: str) -> list[Block]:
    """Return the darts, and the seams where they are sewn in another way than plain; nothing where there are none.

    Parameters
    ----------
    cut : CutResult or None
    unit : str
        In which lengths are said.
    """
    darts = {dart.name: dart for dart in cut.darts} if cut is not None else {}
    rows = tuple(
        (seam.name, seam.finish, length_text(seam.length_a, unit), _taken_out(darts.get(seam.name), unit))
        for seam in (cut.seams if cut is not None else ())
        if seam.finish not in ("", PLAIN)
    )
    if not rows:
        return []
    heads = ("seam or dart", "sewn as", "length", "takes out")
    note = "Both sides carry match marks at equal lengths; of a lap the part whose edge says under lies below."
    return [
        Heading(text="Seams and darts"),
        Grid(heads=heads, rows=rows, shares=(0.33, 0.22, 0.15, 0.30)),
        Prose(text=note),
    ]


def _taken_out(dart: CutDart | None, unit: str) -> str:
    if dart is None:
        return "–"
    from_start = f'{length_text(dart.at, unit)} along "{dart.edge}"'
    return f"{small_length(dart.width, unit)} at the edge, {from_start}"


def bending(rigging: Rigging, unit: str) -> list[Block]:
    """Return the bending schedule of the hoops."""
    hoops = [bend_of(tube) for tube in rigging.model.tubes.values() if tube.kind == "hoop"]
    if not hoops:
        return []
    standings = Standings(rigging, BARE)
    rows = tuple(
        (
            one.name, small_length(one.diameter, unit), small_length(one.wall, unit), length_text(one.developed, unit),
            length_text(one.chord, unit), length_text(one.highest, unit), standings.tube(one.name).said(unit),
        )
        for one in hoops
    )  # fmt: skip
    heads = ("hoop", "outside diameter", "wall", "length of tube", "feet apart", "highest over the feet", "known")
    small = small_unit(unit)
    offsets = tuple(
        (one.name, *(length_text(float(off), small).removesuffix(f" {small}") for off in one.offset[1:-1]))
        for one in hoops
    )
    tenths = tuple(f"{k}/10" for k in range(1, 10))
    return [
        Heading(text="Tubes: bending schedule"),
        Prose(text="Middle lines. Hoops already aboard are listed too, so that new canvas can be held against them."),
        Grid(heads=heads, rows=rows, shares=(0.24, 0.13, 0.1, 0.14, 0.12, 0.13, 0.14)),
        Grid(title=f"Height over the line of the feet, in {SAID[small]}, at tenths of it from the port foot",
             heads=("hoop", *tenths), rows=offsets, shares=(0.145, *(0.095,) * 9)),
    ]  # fmt: skip


def keep_clear(rigging: Rigging, unit: str) -> list[Block]:
    """Return what must go on swinging, winding and opening, and where canvas must not chafe."""
    design = rigging.model.design
    vane = word("wind_vane", region=design.words)
    swing = np.degrees(design.vane.swing)
    blade = f"The {vane}'s blade ({design.vane.kind})"
    must = [f"{blade} swings {swing:.0f} degrees either side; nothing may touch it or its lines."]
    must += [
        f"Winch {one.name}: a handle of {length_text(one.handle, unit)} turns right round." for one in design.winch
    ]
    must += [
        f"{one.name} ({one.kind}), {_where(rigging, one.at, unit)}: keep cloth away, nothing may trap what leaves it."
        for one in design.outlet
    ]
    must += [f"{one.name}, {_where(rigging, one.at, unit)}: leave room to open it." for one in design.filler]
    must.append("The companionway and one other way out stay open for a person in an inflated lifejacket.")
    if design.spars.mast.boom is not None:
        must.append("The boom at its lowest passes over everything that is up under way.")
    chafe = []
    for panel in design.panel:
        if not panel.existing:
            chafe += [f"{panel.name}: patch where it lies over {name}." for name in panel.over]
            chafe += [f"{panel.name}: collar where {one.by} passes through." for one in panel.pierced]
    blocks: list[Block] = [
        Heading(text="What must swing, wind and open"), Prose(text=TYPED), Bullets(items=tuple(must))
    ]  # fmt: skip
    return [*blocks, Heading(text="Where it must not chafe"), Bullets(items=tuple(chafe))] if chafe else blocks


def _where(rigging: Rigging, spot: Vector | str, unit: str) -> str:
    """Return a place in words: how far aft, to which side, how high over the sole."""
    x, y, z = (float(part) for part in rigging.model.at(spot))
    aft = f"{length_text(abs(x), unit)} {'aft' if x >= 0 else 'forward'} of the bulkhead"
    off = f"{length_text(abs(y), unit)} to {'starboard' if y > 0 else 'port'}"
    beside = "on the middle line" if abs(y) < 0.005 else off
    return f"{aft}, {beside}, {length_text(abs(z), unit)} {'over' if z >= 0 else 'below'} the sole"


def to_carry(carried: Mapping[str, Any] | None, unit: str) -> list[Block]:
    """Return the spares that should come with the canvas, and what it weighs aloft."""
    if carried is None:
        return []
    kit = tuple(
        (name, one["name"], _off_the_reel(one["amount"], unit) if one["each"] == "m" else f"{one['amount']:.0f}",
         _off_the_reel(one["worn"], unit) if one["each"] == "m" else f"{one['worn']:.2g}")
        for name, keys in carried["sets"].items()
        for one in keys["spares"]
    )  # fmt: skip
    aloft = tuple(
        (name, one["name"], f"{one['mass_kg']:.2f} kg", length_text(one["over_water_m"], unit))
        for name, keys in carried["sets"].items()
        for one in keys["aloft"]
    )
    if not aloft:
        return []
    shares = (0.22, 0.46, 0.14, 0.18)
    return [
        Heading(text="Spares to deliver with it"),
        Prose(
            text=f"For {carried['spares_for']}, by the short end of each life, and one line of each kind sewn again."
        ),
        Grid(heads=("set", "spare", "take", "expected to wear"), rows=kit, shares=shares),
        Heading(text="Weights aloft"),
        Grid(heads=("set", "what", "weight", "over the water"), rows=aloft, shares=shares),
    ]


def _off_the_reel(metres: float, unit: str) -> str:
    """Return a length of thread, tape or cord as it is bought."""
    return f"{metres:.1f} m" if small_unit(unit) == "mm" else f"{metres / FOOT:.1f} ft"


def acceptance(records: Mapping[str, Mapping[str, Any]], cut: CutResult | None, unit: str) -> list[Block]:
    """Return what is checked at the fitting, with the numbers agreed.

    Parameters
    ----------
    records : mapping of str to mapping
        Records by verb; those of ``fit``, ``vane`` and `FLOW` are read where they are there.
    cut : CutResult or None
    unit : str
        In which lengths are said.
    """
    rows: list[tuple[str, ...]] = []
    for one in records.get("fit", {}).get("sets", []):
        for check in one.get("checks") or []:
            value, limit = (_amount(check.get(key), check.get("unit"), unit) for key in ("value", "limit"))
            rows.append((one["name"], check["name"], value, limit, check["verdict"], BOX))
    vane = best_of_vane(records) if "vane" in records else {"sets": []}
    for one in vane["sets"]:
        rows += [(one["name"], *row, BOX) for row in _steered(one, unit, needed_kn=vane["must_steer_from_kn"])]
    blocks: list[Block] = [Heading(text="Acceptance at the fitting")]
    if rows:
        heads = ("set", "check", "computed", "limit", "verdict", "found")
        blocks.append(Grid(heads=heads, rows=tuple(rows), shares=(0.17, 0.33, 0.13, 0.13, 0.1, 0.14)))
    told = ["Every edge within its tolerance in the edge schedule, measured under tension.",
            "Zips run from end to end by hand, wet and dry.",
            "No pocket of water stays when a bucket is poured on.",
            "The vane swings free, the boom passes, every winch handle turns."]  # fmt: skip
    if cut is not None and any(edge.fit != "final" for edge in cut.edges):
        told.insert(0, "Edges cut long or patterned on board: trimmed and finished at the fitting, then marked here.")
    return [*blocks, Bullets(items=tuple(told), boxes=True)]


def _steered(found: Mapping[str, Any], unit: str, *, needed_kn: float) -> list[tuple[str, str, str, str]]:
    """Return the lowest apparent wind a set steers in, by course under way, with its verdict; not known by sight."""
    courses = [course for course in found["courses"] if course["name"] != AT_ANCHOR]
    if not courses:
        return [(f"vane steers ({SIGHT_ONLY})", "–", "–", "unknown")]
    asked, limit = "apparent wind the vane steers in", _amount(needed_kn, "kn", unit)
    return [
        (f"{asked}, {one['name']}", _amount(one["lowest_aws_kn"], "kn", unit), limit, one["verdict"]) for one in courses
    ]


def _amount(value: float | None, kind: str | None, unit: str) -> str:
    """Return a number of a check as one reads it off a tape, a scale or a clock."""
    if value is None:
        return "–"
    if kind == "m":
        return length_text(value, unit)
    if kind == "share":
        return f"{100 * value:.3g} %"
    return f"{value:.3g} {'' if kind in (None, 'count') else kind}".rstrip()
