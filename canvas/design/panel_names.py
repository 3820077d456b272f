"""Check the names that panels use: cloths, finishes, edges, tubes and marks; and what the sets ask of panels.

Computes: every name that is used and not declared, every pair of keys that contradict one another.
Units: none.
Source: none.
Limits: what lies where is not looked at; see `canvas.geometry.panels`.
"""

from __future__ import annotations

from collections.abc import Iterator

from canvas.design.name_problem import NameProblem, unknown
from canvas.design.positions import Path
from canvas.design.problems import nearest
from canvas.design.schema.design import Design
from canvas.design.schema.rig import Edge, Panel, PanelUp
from canvas.design.tables import cloths as program_cloths
from canvas.design.tables import fastenings, finishes


def panel_problems(design: Design) -> Iterator[NameProblem]:
    """Return every problem with the names that cloths, panels and sets of panels use."""
    for index, spec in enumerate(design.cloth):
        if spec.like not in program_cloths():
            yield unknown(("cloth", index, "like"), "cloth", spec.like, program_cloths())
    known = {*program_cloths(), *(spec.name for spec in design.cloth)}
    for index, panel in enumerate(design.panel):
        path: Path = ("panel", index)
        yield from _cloths(panel, path, known)
        yield from _cut_in(design, panel, path)
        yield from _held_by(design, panel, path)
        yield from _edges(design, panel, path)
        yield from _seams(panel, path)
    for index, panel_set in enumerate(design.set):
        seen: set[str] = set()
        for place, entry in enumerate(panel_set.up):
            yield from _up(design, entry, ("set", index, "up", place), seen)
            seen.add(entry.panel)


def _cloths(panel: Panel, path: Path, known: set[str]) -> Iterator[NameProblem]:
    if panel.cloth is None and not panel.existing:
        yield NameProblem(path=path, code="missing-key", found='no key "cloth"', wanted=nearest("", known))
    if panel.cloth is not None and panel.cloth not in known:
        yield unknown((*path, "cloth"), "cloth", panel.cloth, known)
    names: set[str] = set()
    for place, insert in enumerate(panel.inserts):
        here = (*path, "inserts", place)
        if insert.cloth not in known:
            yield unknown((*here, "cloth"), "cloth", insert.cloth, known)
        if isinstance(insert.inset, list) and len(insert.inset) != len(panel.edges):
            yield NameProblem(
                path=(*here, "inset"), code="wrong-value", found=f"{len(insert.inset)} insets",
                wanted=f"Write one length, or {len(panel.edges)}: one for each edge.",
            )  # fmt: skip
        if insert.name in names:
            yield NameProblem(
                path=(*here, "name"), code="double-name", found=f'a second insert "{insert.name}"',
                wanted="Name each insert of a panel once.",
            )  # fmt: skip
        names.add(insert.name)


def _seams(panel: Panel, path: Path) -> Iterator[NameProblem]:
    for place, seam in enumerate(panel.seams if panel.seams != "proposed" else ()):
        between = seam.start is not None or seam.to is not None or bool(seam.through)
        if seam.at is not None and between:
            yield NameProblem(
                path=(*path, "seams", place), code="two-ways", found="both a place and two ends",
                wanted="Give either `at`, for a seam with the warp, or `from` and `to`.",
            )  # fmt: skip
        elif seam.at is None and (seam.start is None or seam.to is None):
            yield NameProblem(
                path=(*path, "seams", place), code="missing-key", found="no complete course",
                wanted="Give `at`, for a seam with the warp, or `from` and `to`.",
            )  # fmt: skip


def _cut_in(design: Design, panel: Panel, path: Path) -> Iterator[NameProblem]:
    if panel.cut_in is None:
        return
    if panel.cut_in not in design.set_names():
        yield unknown((*path, "cut_in"), "set", panel.cut_in, design.set_names())
    elif all(up.panel != panel.name for up in design.panels_up(panel.cut_in)):
        yield NameProblem(
            path=(*path, "cut_in"), code="two-ways", found=f'cut in "{panel.cut_in}", where it is not up',
            wanted="Name a set in which this panel is up.",
        )  # fmt: skip


def _held_by(design: Design, panel: Panel, path: Path) -> Iterator[NameProblem]:
    tubes = {tube.name for tube in design.tube}
    edge_names = {edge.name for edge in panel.edges if edge.name}
    for place, pierced in enumerate(panel.pierced):
        if pierced.by not in tubes:
            yield unknown((*path, "pierced", place, "by"), "tube", pierced.by, tubes)
        if pierced.slit_to is not None and pierced.slit_to not in edge_names:
            yield unknown((*path, "pierced", place, "slit_to"), "edge", pierced.slit_to, edge_names)
    for place, dart in enumerate(panel.darts if panel.darts != "proposed" else ()):
        if dart.edge not in edge_names:
            yield unknown((*path, "darts", place, "edge"), "edge", dart.edge, edge_names)
    booms = {
        name
        for name, mast in (("boom", design.spars.mast), ("mizzen boom", design.spars.mizzen))
        if mast is not None and mast.boom is not None
    }
    for place, name in enumerate(panel.over):
        if name not in tubes | booms:
            yield unknown((*path, "over", place), "tube or boom", name, tubes | booms)
    for place, tie in enumerate(panel.ties):
        if tie.kind not in fastenings():
            yield unknown((*path, "ties", place, "kind"), "fastening", tie.kind, fastenings())


def _edges(design: Design, panel: Panel, path: Path) -> Iterator[NameProblem]:
    tubes = {tube.name for tube in design.tube}
    panels = {other.name for other in design.panel if other.name != panel.name}
    known = {name for name, one in finishes().items() if not one.inner}
    named: set[str] = set()
    for place, edge in enumerate(panel.edges):
        here = (*path, "edges", place)
        if edge.name is not None and edge.name in named:
            yield NameProblem(
                path=(*here, "name"), code="double-name", found=f'a second edge "{edge.name}"',
                wanted="Name each edge once.",
            )  # fmt: skip
        named.add(edge.name or "")
        if edge.along is not None and edge.along not in tubes | panels:
            yield unknown((*here, "along"), "tube or panel", edge.along, tubes | panels)
        elif edge.along in panels:
            yield from _shared_edge(design, edge, here)
        elif edge.edge is not None:
            yield NameProblem(
                path=(*here, "edge"), code="no-meaning", found='"edge" without a panel in `along`',
                wanted="Name the panel whose edge it is, or take it out.",
            )  # fmt: skip
        for key, mark in (("from", edge.start), ("to", edge.to)):
            if mark is not None and mark not in design.marks:
                yield unknown((*here, key), "mark", mark, design.marks)
        if edge.finish is not None and edge.finish not in known:
            yield unknown((*here, "finish"), "finish", edge.finish, known)
        if edge.finish is None and not panel.existing:
            yield NameProblem(path=here, code="missing-key", found='no key "finish"', wanted=nearest("", known))
        yield from _kept_straight(edge, here)


def _kept_straight(edge: Edge, here: Path) -> Iterator[NameProblem]:
    pocket = edge.finish == "batten pocket"
    if edge.along is not None and (edge.hollow is not None or pocket or edge.wire):
        yield NameProblem(
            path=here, code="two-ways", found="an edge along a tube or panel with a hollow, batten or wire",
            wanted="An edge that is held needs none; take it out.",
        )  # fmt: skip
    if edge.hollow is not None and pocket:
        yield NameProblem(
            path=here, code="two-ways", found="a hollow and a batten",
            wanted="A free edge has a hollow or a batten, not both.",
        )  # fmt: skip
    for key in ("batten", "batten_bow"):
        if getattr(edge, key) is not None and not pocket:
            yield NameProblem(
                path=(*here, key), code="two-ways", found="a batten without its pocket",
                wanted='Write finish = "batten pocket".',
            )  # fmt: skip


def _shared_edge(design: Design, edge: Edge, here: Path) -> Iterator[NameProblem]:
    other = design.panel_named(str(edge.along))
    names = {candidate.name for candidate in other.edges if candidate.name is not None}
    if edge.edge is None:
        yield NameProblem(
            path=here, code="missing-key", found='no key "edge"',
            wanted=f"Say which edge of that panel. {nearest('', names)}",
        )  # fmt: skip
    elif edge.edge not in names:
        yield unknown((*here, "edge"), "edge", edge.edge, names)


def _up(design: Design, up: PanelUp, path: Path, seen: set[str]) -> Iterator[NameProblem]:
    panel = next((panel for panel in design.panel if panel.name == up.panel), None)
    if panel is None:
        yield unknown(path, "panel", up.panel, {panel.name for panel in design.panel})
        return
    if up.panel in seen:
        yield NameProblem(path=path, code="double-name", found=f'"{up.panel}" twice', wanted="Name it once.")
    if up.window == "rolled up" and not any(insert.rolls_up for insert in panel.inserts):
        yield NameProblem(
            path=(*path, "window"), code="no-meaning", found=f'a rolled-up window in "{up.panel}", where none rolls',
            wanted="Write rolls_up = true in one of its inserts, or take this out.",
        )  # fmt: skip
    yield from _opened(panel, up, path)


def _opened(panel: Panel, up: PanelUp, path: Path) -> Iterator[NameProblem]:
    zips = {edge.name for edge in panel.edges if edge.name and (edge.finish or "").startswith("zip")}
    if up.zip_edge is not None and up.zip_edge not in zips:
        yield unknown((*path, "zip_edge"), "zipped edge", up.zip_edge, zips)
    elif up.zip_edge is not None and up.zip == 0:
        yield NameProblem(
            path=(*path, "zip_edge"), code="no-meaning", found="a zip's edge with the zip closed",
            wanted='Write zip = "open" or such as "open 40 %", or take it out.',
        )  # fmt: skip
    elif up.zip > 0 and up.zip_edge is None and len(zips) != 1:
        yield NameProblem(
            path=(*path, "zip"), code="missing-key", found=f"an open zip of {len(zips)}",
            wanted=f"Say which with `zip_edge`. {nearest('', zips)}",
        )  # fmt: skip
