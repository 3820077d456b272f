"""Check the names of a design against one another: marks, tubes, panels, edges, sets, cloths, finishes.

Computes: every name that is used and not declared, declared twice, or declared and impossible.
Units: none.
Source: none.
Limits: what lies where is not looked at; see `canvas.geometry.checks`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from canvas.design.positions import Path
from canvas.design.problems import nearest
from canvas.design.schema.design import BARE, Design
from canvas.design.schema.rig import Edge, Panel
from canvas.design.tables import cloths, fastenings, finishes


@dataclass(frozen=True, slots=True, kw_only=True)
class NameProblem:
    """A problem with a name, by its path in the file."""

    path: Path
    code: str
    found: str
    wanted: str


def name_problems(design: Design) -> list[NameProblem]:
    """Return every problem with names in a design, in the order of the file's parts."""
    return [
        *_doubles(design),
        *_spots(design),
        *_tubes(design),
        *_panels(design),
        *_sets(design),
        *_readings(design),
    ]


def _unknown(path: Path, what: str, word: str, known: Iterable[str]) -> NameProblem:
    return NameProblem(
        path=path, code=f"unknown-{what.replace(' ', '-')}", found=f'{what} "{word}"', wanted=nearest(word, known)
    )


def _doubles(design: Design) -> Iterator[NameProblem]:
    for kind in ("tube", "panel", "set", "solid", "sail", "winch", "place", "crew", "cloth", "outlet", "filler"):
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
                path=("panel", index, "name"), code="double-name", found=f'a panel and a tube both named "{panel.name}"',
                wanted="Edges run along both, so give each its own name.",
            )  # fmt: skip


def _spots(design: Design) -> Iterator[NameProblem]:
    places = {place.name for place in design.place} | {"helm", "port seat", "starboard seat"}
    spots: list[tuple[Path, object]] = []
    for kind in ("solid", "outlet", "filler", "winch"):
        for index, record in enumerate(getattr(design, kind)):
            spots += [((kind, index, key), getattr(record, key, None)) for key in ("at", "to")]
    spots += [(("sail", i, "corners", k), c) for i, sail in enumerate(design.sail) for k, c in enumerate(sail.corners)]
    spots += [
        (("place", i, "corners", k), c) for i, place in enumerate(design.place) for k, c in enumerate(place.corners)
    ]
    spots += [(("vane", "lines", k), c) for k, c in enumerate(design.vane.lines)]
    spots += [
        (("panel", i, "ties", k, "at"), tie.at)
        for i, panel in enumerate(design.panel)
        for k, tie in enumerate(panel.ties)
    ]
    spots += [
        (("panel", i, "edges", k, "through", j), spot)
        for i, panel in enumerate(design.panel)
        for k, edge in enumerate(panel.edges)
        for j, spot in enumerate(edge.through)
    ]
    for tube_index, tube in enumerate(design.tube):
        spots += [(("tube", tube_index, "start"), tube.start), (("tube", tube_index, "end"), tube.end)]
        spots += [(("tube", tube_index, "through", k), spot) for k, spot in enumerate(tube.through or [])]
    for path, spot in spots:
        if isinstance(spot, str) and spot not in design.marks:
            yield _unknown(path, "mark", spot, design.marks)
    for index, crew in enumerate(design.crew):
        if isinstance(crew.at, str) and crew.at not in places and crew.at not in design.marks:
            yield _unknown(("crew", index, "at"), "place or mark", crew.at, places | set(design.marks))


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
                path=path,
                code="missing-key",
                found='no key "crown"',
                wanted="Give the hoop's greatest height above its feet.",
            )


def _panels(design: Design) -> Iterator[NameProblem]:
    known_cloths = {*cloths(), *(spec.name for spec in design.cloth)}
    for index, spec in enumerate(design.cloth):
        if spec.like not in cloths():
            yield _unknown(("cloth", index, "like"), "cloth", spec.like, cloths())
    for index, panel in enumerate(design.panel):
        path: Path = ("panel", index)
        if panel.cloth is None and not panel.existing:
            yield NameProblem(path=path, code="missing-key", found='no key "cloth"', wanted=nearest("", known_cloths))
        if panel.cloth is not None and panel.cloth not in known_cloths:
            yield _unknown((*path, "cloth"), "cloth", panel.cloth, known_cloths)
        if panel.cut_in is not None and panel.cut_in not in design.set_names():
            yield _unknown((*path, "cut_in"), "set", panel.cut_in, design.set_names())
        for place, insert in enumerate(panel.inserts):
            if insert.cloth not in known_cloths:
                yield _unknown((*path, "inserts", place, "cloth"), "cloth", insert.cloth, known_cloths)
            if isinstance(insert.inset, list) and len(insert.inset) != len(panel.edges):
                yield NameProblem(
                    path=(*path, "inserts", place, "inset"), code="wrong-value", found=f"{len(insert.inset)} insets",
                    wanted=f"Write one length, or {len(panel.edges)}: one for each edge.",
                )  # fmt: skip
        wires = {tube.name for tube in design.tube}
        edge_names = {edge.name for edge in panel.edges if edge.name}
        for place, pierced in enumerate(panel.pierced):
            if pierced.by not in wires:
                yield _unknown((*path, "pierced", place, "by"), "tube", pierced.by, wires)
            if pierced.slit_to is not None and pierced.slit_to not in edge_names:
                yield _unknown((*path, "pierced", place, "slit_to"), "edge", pierced.slit_to, edge_names)
        over = wires | {"boom", "mizzen boom"}
        for place, name in enumerate(panel.over):
            if name not in over:
                yield _unknown((*path, "over", place), "tube", name, over)
        for place, tie in enumerate(panel.ties):
            if tie.kind not in fastenings():
                yield _unknown((*path, "ties", place, "kind"), "fastening", tie.kind, fastenings())
        yield from _edges(design, panel, path)


def _edges(design: Design, panel: Panel, path: Path) -> Iterator[NameProblem]:
    tubes = {tube.name for tube in design.tube}
    panels = {other.name for other in design.panel if other.name != panel.name}
    named: set[str] = set()
    for place, edge in enumerate(panel.edges):
        here = (*path, "edges", place)
        if edge.name is not None and edge.name in named:
            yield NameProblem(
                path=(*here, "name"),
                code="double-name",
                found=f'a second edge "{edge.name}"',
                wanted="Name each edge once.",
            )
        named.add(edge.name or "")
        if edge.along is not None and edge.along not in tubes | panels:
            yield _unknown((*here, "along"), "tube or panel", edge.along, tubes | panels)
        elif edge.along in panels:
            yield from _shared_edge(design, edge, here)
        for key, mark in (("from", edge.start), ("to", edge.to)):
            if mark is not None and mark not in design.marks:
                yield _unknown((*here, key), "mark", mark, design.marks)
        if edge.finish is not None and edge.finish not in finishes():
            yield _unknown((*here, "finish"), "finish", edge.finish, finishes())
        if edge.finish is None and not panel.existing:
            yield NameProblem(path=here, code="missing-key", found='no key "finish"', wanted=nearest("", finishes()))
        keeps = [edge.hollow is not None, edge.finish == "batten pocket", edge.wire]
        if edge.along is not None and any(keeps):
            yield NameProblem(
                path=here, code="two-ways", found="an edge along a tube or panel with a hollow, batten or wire",
                wanted="An edge that is held needs none; take it out.",
            )  # fmt: skip
        if keeps[0] and keeps[1]:
            yield NameProblem(
                path=here,
                code="two-ways",
                found="a hollow and a batten",
                wanted="A free edge has a hollow or a batten, not both.",
            )
        if edge.batten is not None and not keeps[1]:
            yield NameProblem(
                path=(*here, "batten"), code="two-ways", found="a batten without its pocket",
                wanted='Write finish = "batten pocket".',
            )  # fmt: skip


def _shared_edge(design: Design, edge: Edge, here: Path) -> Iterator[NameProblem]:
    other = design.panel_named(str(edge.along))
    names = {candidate.name for candidate in other.edges if candidate.name is not None}
    if edge.edge is None:
        yield NameProblem(
            path=here,
            code="missing-key",
            found='no key "edge"',
            wanted=f"Say which edge of that panel. {nearest('', names)}",
        )
    elif edge.edge not in names:
        yield _unknown((*here, "edge"), "edge", edge.edge, names)


def _sets(design: Design) -> Iterator[NameProblem]:
    panels = {panel.name for panel in design.panel}
    known = design.set_names()
    for index, panel_set in enumerate(design.set):
        if panel_set.name == BARE and panel_set.up:
            yield NameProblem(
                path=("set", index, "up"), code="two-ways", found=f'canvas up in the set "{BARE}"',
                wanted=f'"{BARE}" means no canvas; give this set another name.',
            )  # fmt: skip
        seen: set[str] = set()
        for place, entry in enumerate(panel_set.up):
            name = entry if isinstance(entry, str) else entry.panel
            if name not in panels:
                yield _unknown(("set", index, "up", place), "panel", name, panels)
            if name in seen:
                yield NameProblem(
                    path=("set", index, "up", place),
                    code="double-name",
                    found=f'"{name}" twice',
                    wanted="Name it once.",
                )
            seen.add(name)
    if design.vane.steers_from_with not in known:
        yield _unknown(("vane", "steers_from_with"), "set", design.vane.steers_from_with, known)
    for kind in ("solid", "sail"):
        for index, record in enumerate(getattr(design, kind)):
            for place, name in enumerate(record.sets or []):
                if name not in known:
                    yield _unknown((kind, index, "sets", place), "set", name, known)
    for index, leg in enumerate(design.passage.legs if design.passage else []):
        if leg.set is not None and leg.set not in known:
            yield _unknown(("passage", "legs", index, "set"), "set", leg.set, known)


def _readings(design: Design) -> Iterator[NameProblem]:
    panels = {panel.name for panel in design.panel}
    for index, reading in enumerate(design.reading):
        for key, attribute in (("from", "start"), ("to", "to"), ("at", "at"), ("below", "below")):
            mark = getattr(reading, attribute, None)
            if isinstance(mark, str) and mark not in design.marks:
                yield _unknown(("reading", index, key), "mark", mark, design.marks)
        for place, mark in enumerate(getattr(reading, "marks", ())):
            if mark not in design.marks:
                yield _unknown(("reading", index, "marks", place), "mark", mark, design.marks)
        panel = getattr(reading, "panel", None)
        if panel is not None and panel not in panels:
            yield _unknown(("reading", index, "panel"), "panel", panel, panels)
        chosen = getattr(reading, "set", None)
        if chosen is not None and chosen not in design.set_names():
            yield _unknown(("reading", index, "set"), "set", chosen, design.set_names())
    for place, mark in enumerate(design.survey.held):
        if mark not in design.marks:
            yield _unknown(("survey", "held", place), "mark", mark, design.marks)
