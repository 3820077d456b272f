"""Lay out the maker's brief: all a canvas maker needs to quote, make and fit the new panels of a boat.

Computes: nothing; lays out what was computed.
Units: the design's own, or those asked for.
Source: the design, the cut, the take-off, the records of the checks.
Limits: an edge known from tape or coordinates alone carries its tolerance; what is to be fitted on board is said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from canvas.brief.blocks import BOX, Block, Bullets, Document, Figure, Grid, Heading, Prose
from canvas.brief.cautions import cautions_for
from canvas.brief.drawing import MM, Drawing
from canvas.brief.known import KEY, Standings, panel_known
from canvas.brief.makertables import (
    acceptance,
    bending,
    edge_schedule,
    keep_clear,
    panel_schedule,
    seams_and_darts,
    to_carry,
    windows,
    zip_schedule,
)
from canvas.brief.palette import tint
from canvas.brief.paper import text_room
from canvas.brief.partviews import part_drawing
from canvas.brief.pictures import VIEWS, drafter_of
from canvas.brief.rolls import roll_drawing
from canvas.brief.sections import section_drawing
from canvas.cloth.rigging import Rigging
from canvas.cutting.ordered import shop_finishes
from canvas.cutting.result import CutResult
from canvas.cutting.seamkinds import UNDER
from canvas.design.units import small_unit
from canvas.materials.takeoff import TakeOff

COVER = VIEWS.index("profile")
SIGNED = ("Maker: read, questions asked", "Crew: agreed to be made", "Crew: fitted, accepted")
DRAWN = (
    "In the drawings, lines behind canvas are dashed, lines behind something solid left out. Dimensions are of the "
    "shape under tension, to {}; the edge lengths to make stand in the edge schedule."
)
QUESTIONS = (
    "Which side is out? The flat parts are drawn from outside; the panel schedule says which side that is.",
    "Where is forward? Every part carries an arrow; the drawings have the bow to the right.",
    "What is the finished size? The part drawings; every edge length is finished, flat, without allowances.",
    "Which way does a zip open, which half? The zip schedule; halves are named seen from outside, forward up.",
    "What may vary? The edge schedule: final, long by so much, or patterned on board, each with its tolerance.",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BriefContents:
    """What a brief is made from.

    Attributes
    ----------
    rigging : Rigging
    cut : CutResult or None
        None where the panels could not be cut yet.
    takes : tuple of TakeOff
    records : mapping of str to record
        Of the checks that were made, by verb, for the acceptance list.
    carried : record, optional
        Spares to take along and weights aloft, by set.
    changes : tuple of str
        What changed since the last revision.
    """

    rigging: Rigging
    cut: CutResult | None
    takes: tuple[TakeOff, ...] = ()
    records: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    carried: Mapping[str, Any] | None = None
    changes: tuple[str, ...] = ()


def maker_brief(contents: BriefContents, *, paper: str = "A4", units: str | None = None) -> Document:
    """Return the brief.

    Parameters
    ----------
    contents : BriefContents
    paper : str
        ``A4`` or ``Letter``.
    units : str, optional
        The design's own where absent.

    Raises
    ------
    CouldNot
        When a set's canvas has no shape in balance.
    """
    design = contents.rigging.model.design
    unit = units or design.units
    room = text_room(paper)[0]
    views = _views(contents, room, unit)
    blocks: list[Block] = [
        Heading(text=f"{design.name}: canvas to be made", level=1),
        Prose(text=f"Revision {design.revision}. {_scope(contents)}"),
        *_cover(views),
        Heading(text="Where to find what you will ask"),
        Bullets(items=QUESTIONS),
        *_drawings(views, unit),
        Heading(text="Panels", page=True),
        panel_schedule(contents.rigging, contents.takes),
        Heading(text="Edges and fastenings"),
        *edge_schedule(contents.rigging, contents.cut, unit),
        *_sections(contents, unit),
        Heading(text="Zips"),
        *zip_schedule(contents.rigging, contents.takes, contents.cut, unit),
        *windows(contents.rigging, contents.cut, unit),
        *seams_and_darts(contents.cut, unit),
        *_parts(contents, room, unit),
        *bending(contents.rigging, unit),
        *keep_clear(contents.rigging, unit),
        *to_carry(contents.carried, unit),
        *acceptance(contents.records, contents.cut, unit),
        *_close(contents),
    ]
    foot = f"{design.name}, maker's brief, revision {design.revision}"
    return Document(title=f"{design.name}: maker's brief", foot=foot, blocks=tuple(blocks))


def _scope(contents: BriefContents) -> str:
    new = [panel.name for panel in contents.rigging.model.design.panel if not panel.existing]
    return f"{len(new)} new panels: {', '.join(new)}." if new else "No new panels."


def _home_sets(contents: BriefContents) -> list[str]:
    design = contents.rigging.model.design
    homes = [design.home_set(panel) for panel in design.panel if not panel.existing]
    return [name for name in design.set_names() if name in homes]


def _cover(views: Mapping[str, Sequence[Drawing]]) -> list[Block]:
    return [Figure(drawing=drawn[COVER], caption=f"Set “{name}”") for name, drawn in [*views.items()][:1]]


def _drawings(views: Mapping[str, Sequence[Drawing]], unit: str) -> list[Block]:
    blocks: list[Block] = [
        Prose(text=DRAWN.format("a centimetre" if small_unit(unit) == "mm" else "half an inch")),
        Prose(text=KEY),
    ]
    for name, drawn in views.items():
        blocks.append(Heading(text=f"Drawings: {name}", page=True))
        blocks += [Figure(drawing=one) for one in drawn]
    return blocks


def _views(contents: BriefContents, room: float, unit: str) -> dict[str, list[Drawing]]:
    """Return the views of each set, at the largest scale at which all fit the page with what is written beside them."""
    standings = {name: Standings(contents.rigging, name) for name in _home_sets(contents)}
    found: dict[str, list[Drawing]] = {}
    for share in (1.0, 0.85, 0.7, 0.55):
        drafter = drafter_of(contents.rigging, paper=share * room, text=2.3 * MM, units=unit)
        for name, known in standings.items():
            scene = contents.rigging.rig(name).scene
            found[name] = [drafter.view(scene, view, standings=known) for view in VIEWS]
        if all(one.width <= room for drawn in found.values() for one in drawn):
            break
    return found


def _sections(contents: BriefContents, unit: str) -> list[Block]:
    design = contents.rigging.model.design
    used = dict.fromkeys(edge.finish or "hem" for panel in design.panel if not panel.existing for edge in panel.edges)
    if contents.cut is not None:
        used |= dict.fromkeys(seam.finish for seam in contents.cut.seams if seam.finish)
    if any(panel.inserts for panel in design.panel if not panel.existing):
        used["window"] = None
    known = shop_finishes(contents.rigging)
    drawn = (
        section_drawing(known[name], units=unit, under=known.get(UNDER.get(name, ""))) for name in used if name in known
    )
    figures = [Figure(drawing=drawing) for drawing in drawn]
    return [Heading(text="Edges in section"), *figures] if figures else []


def _parts(contents: BriefContents, room: float, unit: str) -> list[Block]:
    cut = contents.cut
    if cut is None:
        return [
            Heading(text="Parts"),
            Prose(text="The flat parts are not ready: something in the design has to be changed first.", strong=True),
        ]
    names = [panel.name for panel in contents.rigging.model.design.panel]
    blocks: list[Block] = [Heading(text="Parts", page=True)]
    for part in cut.parts:
        if part.edges:
            colours = tint(part.panel, names=names)
            drawn = part_drawing(part, colours=colours, paper=room, units=unit)
            count = f", cut {part.count}" if part.count > 1 else ""
            known = panel_known(contents.rigging, cut, part.panel).said(unit)
            told = f"{part.name}: {part.cloth}, seen from outside{count}; sizes {known}"
            blocks.append(Figure(drawing=drawn, caption=told))
    blocks.append(Heading(text="On the roll", page=True))
    blocks += [Figure(drawing=roll_drawing(cut, roll, paper=room, units=unit, panels=names)) for roll in cut.rolls]
    return blocks


def _close(contents: BriefContents) -> list[Block]:
    design = contents.rigging.model.design
    blocks: list[Block] = [Heading(text="Cautions")]
    blocks += [Prose(text=caution, strong=True) for caution in cautions_for("brief")]
    if design.decision:
        rows = tuple((one.date, one.what, one.why) for one in design.decision)
        blocks += [
            Heading(text="Decided so far"),
            Grid(heads=("date", "what", "why"), rows=rows, shares=(0.14, 0.43, 0.43)),
        ]
    blocks += [Heading(text="Revisions"), _revisions(design.revision, contents.changes)]
    boxes = tuple((what, BOX, BOX) for what in SIGNED)
    blocks += [
        Heading(text="Signed"),
        Grid(heads=("", "name", "date"), rows=boxes, shares=(0.36, 0.42, 0.22), tall=True),
    ]
    return blocks


def _revisions(revision: str, changes: Sequence[str]) -> Grid:
    told = "; ".join(changes) if changes else "first issue" if revision == "A" else "changes not listed"
    return Grid(heads=("revision", "what changed"), rows=((revision, told),), shares=(0.14, 0.86))
