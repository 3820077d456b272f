"""Check the names of a design against one another: marks, tubes, panels, edges, sets, cloths, finishes.

Computes: every name that is used and not declared, declared twice, or declared and impossible; every key that means
    nothing where it stands.
Units: none.
Source: none.
Limits: what lies where is not looked at; see `canvas.geometry.checks`.
"""

from __future__ import annotations

from collections.abc import Iterator

from canvas.design.name_problem import NameProblem, unknown
from canvas.design.panel_names import panel_problems
from canvas.design.positions import Path
from canvas.design.schema.design import BARE, Design
from canvas.design.schema.keys import stands_in_schema
from canvas.design.schema.rig import Panel
from canvas.design.tables import cloths, fastenings, finishes

__all__ = ["NameProblem", "name_problems"]

NAMED = (
    "tube", "panel", "set", "solid", "sail", "winch", "place", "crew", "cloth", "outlet", "filler", "fitting",
)  # fmt: skip
HOOP_KEYS = ("rake", "crown", "top_width", "camber", "corner_radius")
OWN_PLACES = ("helm", "port seat", "starboard seat")


def name_problems(design: Design) -> list[NameProblem]:
    """Return every problem with names in a design, in the order of the file's parts."""
    return [
        *_doubles(design),
        *_spots(design),
        *_tubes(design),
        *panel_problems(design),
        *_sets(design),
        *_readings(design),
        *_money(design),
        *_passage(design),
        *_remarks(design),
    ]


def _doubles(design: Design) -> Iterator[NameProblem]:
    for kind in NAMED:
        seen: set[str] = set()
        for index, record in enumerate(getattr(design, kind)):
            if record.name in seen:
                yield NameProblem(
                    path=(kind, index, "name"), code="double-name", found=f'a second {kind} "{record.name}"',
                    wanted="Give each its own name.",
                )  # fmt: skip
            seen.add(record.name)
    tubes = {tube.name for tube in design.tube}
    for index, panel in enumerate(design.panel):
        if panel.name in tubes:
            yield NameProblem(
                path=("panel", index, "name"), code="double-name", found=f'a panel and a tube named "{panel.name}"',
                wanted="Edges run along both, so give each its own name.",
            )  # fmt: skip


def _spots(design: Design) -> Iterator[NameProblem]:
    for path, spot in _all_spots(design):
        if isinstance(spot, str) and spot not in design.marks:
            yield unknown(path, "mark", spot, design.marks)
    places = {place.name for place in design.place} | set(OWN_PLACES)
    for index, crew in enumerate(design.crew):
        if isinstance(crew.at, str) and crew.at not in places and crew.at not in design.marks:
            yield unknown(("crew", index, "at"), "place or mark", crew.at, places | set(design.marks))


def _all_spots(design: Design) -> Iterator[tuple[Path, object]]:
    for kind in ("solid", "outlet", "filler", "fitting", "winch"):
        for index, record in enumerate(getattr(design, kind)):
            yield from (((kind, index, key), getattr(record, key, None)) for key in ("at", "to"))
    for kind in ("sail", "place"):
        for index, record in enumerate(getattr(design, kind)):
            yield from (((kind, index, "corners", k), corner) for k, corner in enumerate(record.corners))
    yield from ((("vane", "lines", k), spot) for k, spot in enumerate(design.vane.lines))
    for name in ("mast", "mizzen"):
        mast = getattr(design.spars, name)
        if mast is not None and mast.boom is not None:
            yield ("spars", name, "boom", "sheet_at"), mast.boom.sheet_at
    for index, panel in enumerate(design.panel):
        yield from ((("panel", index, "ties", k, "at"), tie.at) for k, tie in enumerate(panel.ties))
        yield from _seam_spots(panel, ("panel", index, "seams"))
        for k, edge in enumerate(panel.edges):
            yield from ((("panel", index, "edges", k, "through", j), spot) for j, spot in enumerate(edge.through))
    for index, tube in enumerate(design.tube):
        yield from (((("tube", index, key)), getattr(tube, key)) for key in ("start", "end"))
        yield from ((("tube", index, "through", k), spot) for k, spot in enumerate(tube.through or []))


def _seam_spots(panel: Panel, path: Path) -> Iterator[tuple[Path, object]]:
    for k, seam in enumerate(panel.seams if panel.seams != "proposed" else ()):
        yield (*path, k), seam.at
        yield (*path, k, "from"), seam.start
        yield (*path, k, "to"), seam.to
        yield from (((*path, k, "through", j), spot) for j, spot in enumerate(seam.through))


def _tubes(design: Design) -> Iterator[NameProblem]:
    for index, tube in enumerate(design.tube):
        path: Path = ("tube", index)
        measured = tube.through is not None
        if measured and (tube.start is not None or tube.end is not None):
            yield NameProblem(
                path=(*path, "through"), code="two-ways", found="both measured points and feet",
                wanted="Give either `through`, or `start` and `end`.",
            )  # fmt: skip
        if not measured and (tube.start is None or tube.end is None):
            yield NameProblem(
                path=path, code="missing-key", found="no complete course",
                wanted="Give `start` and `end`, or measured points in `through`.",
            )  # fmt: skip
        if tube.kind == "hoop" and not measured and tube.crown is None:
            yield NameProblem(
                path=path, code="missing-key", found='no key "crown"',
                wanted="Give the hoop's greatest height above its feet.",
            )  # fmt: skip
        shaped = tube.kind == "hoop" and not measured
        needless = [key for key in HOOP_KEYS if not shaped and key in tube.model_fields_set]
        needless += ["strap_strength"] if tube.kind == "wire" and tube.strap_strength is not None else []
        for key in needless:
            what = "a hoop measured by points" if tube.kind == "hoop" else f"a {tube.kind}"
            yield NameProblem(
                path=(*path, key), code="no-meaning", found=f'"{key}" of {what}',
                wanted="It means nothing there; take it out.",
            )  # fmt: skip


def _sets(design: Design) -> Iterator[NameProblem]:
    known = design.set_names()
    for index, panel_set in enumerate(design.set):
        if panel_set.name == BARE and panel_set.up:
            yield NameProblem(
                path=("set", index, "up"), code="two-ways", found=f'canvas up in the set "{BARE}"',
                wanted=f'"{BARE}" means no canvas; give this set another name.',
            )  # fmt: skip
    if design.vane.steers_from_with not in known:
        yield unknown(("vane", "steers_from_with"), "set", design.vane.steers_from_with, known)
    if design.vane.axis == "upright" and "axis_tilt" in design.vane.model_fields_set:
        yield NameProblem(
            path=("vane", "axis_tilt"), code="no-meaning", found='"axis_tilt" of an upright axis',
            wanted='It has no meaning there; take it out, or write axis = "tilted".',
        )  # fmt: skip
    for kind in ("solid", "sail"):
        for index, record in enumerate(getattr(design, kind)):
            for place, name in enumerate(record.sets or []):
                if name not in known:
                    yield unknown((kind, index, "sets", place), "set", name, known)


def _readings(design: Design) -> Iterator[NameProblem]:
    panels = {panel.name for panel in design.panel}
    for index, reading in enumerate(design.reading):
        for key, attribute in (("from", "start"), ("to", "to"), ("at", "at"), ("below", "below")):
            mark = getattr(reading, attribute, None)
            if isinstance(mark, str) and mark not in design.marks:
                yield unknown(("reading", index, key), "mark", mark, design.marks)
        for key in ("marks", "via"):
            for place, mark in enumerate(getattr(reading, key, ())):
                if mark not in design.marks:
                    yield unknown(("reading", index, key, place), "mark", mark, design.marks)
        panel = getattr(reading, "panel", None)
        if panel is not None and panel not in panels:
            yield unknown(("reading", index, "panel"), "panel", panel, panels)
        chosen = getattr(reading, "set", None)
        if chosen is not None and chosen not in design.set_names():
            yield unknown(("reading", index, "set"), "set", chosen, design.set_names())
    for place, mark in enumerate(design.survey.held):
        if mark not in design.marks:
            yield unknown(("survey", "held", place), "mark", mark, design.marks)
        elif isinstance(design.marks[mark], str):
            yield NameProblem(
                path=("survey", "held", place), code="two-ways", found=f'"{mark}" held and left to the survey',
                wanted="A held mark needs coordinates.",
            )  # fmt: skip


def _money(design: Design) -> Iterator[NameProblem]:
    known_cloths = {*cloths(), *(spec.name for spec in design.cloth)}
    for key, known in (("cloth", known_cloths), ("fastening", set(fastenings()))):
        for name in getattr(design.prices, key):
            if name not in known:
                yield unknown(("prices", key, name), key, name, known)
    for name in design.shop.allowance:
        if name not in finishes():
            yield unknown(("shop", "allowance", name), "finish", name, finishes())


def _passage(design: Design) -> Iterator[NameProblem]:
    for index, leg in enumerate(design.passage.legs if design.passage else []):
        path: Path = ("passage", "legs", index)
        if leg.set is not None and leg.set not in design.set_names():
            yield unknown((*path, "set"), "set", leg.set, design.set_names())
        total = sum(cell.share for cell in leg.wind)
        if total > 1.0005:
            yield NameProblem(
                path=(*path, "wind"), code="wrong-value", found=f"shares that add up to {100 * total:.4g} %",
                wanted="Let them add up to 100 % or less; the rest counts as calm.",
            )  # fmt: skip


def _remarks(design: Design) -> Iterator[NameProblem]:
    for place, key in enumerate(design.assumed):
        if not stands_in_schema(key.split(".")):
            yield unknown(("assumed", place), "part of the file", key, type(design).model_fields)
