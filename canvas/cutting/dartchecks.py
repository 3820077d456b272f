"""Say which of the darts that a design asks for cannot be cut, and what to change.

Computes: where each dart's line runs on the flat cloth, against edges, windows, holes, other darts and seams.
Units: metres.
Source: common practice for clearances.
Limits: darts are held against each other as they lie before any is cut.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString

from canvas.cutting.carried import on_flat
from canvas.cutting.darts import APART, CLEAR, LAP, OPENS, Ground, PlannedDart, planned_dart
from canvas.cutting.flatten import Flat, flatten
from canvas.cutting.piece import DartToCut, PanelToCut, Piece, arc_length, whole_piece
from canvas.cutting.slit import ROUGH, dart_legs, leg_gaps
from canvas.design.problems import Problem
from canvas.geometry.surface import Floats

WIDEST = 0.5  # of its depth: a dart wider than that stands up at its point; common practice
FAR = 100.0  # [m] beyond any cloth


def dart_problems(panel: PanelToCut, seams: Sequence[Floats] = ()) -> list[Problem]:
    """Return what is wrong with the darts that a panel's design gives.

    Parameters
    ----------
    panel : PanelToCut
    seams : sequence of (k, 3) ndarray
        Seams chosen by the design: lines, or one point each through which it runs with the warp. [m]
    """
    if panel.darts == "proposed" or not panel.darts:
        return []
    problems: list[Problem] = []
    on_edge: dict[int, DartToCut] = {}
    for k, dart in enumerate(panel.darts, start=1):
        off = list(_off_edge(panel, dart, k))
        problems.extend(off)
        if not off:
            on_edge[k] = dart
    if not on_edge:
        return problems
    piece = whole_piece(panel)
    flat = flatten(piece.vertices, piece.faces, warp=piece.warp, calm=ROUGH)
    ground = Ground.of(piece, flat, off=np.array([one.at for one in panel.piercings]).reshape(-1, 3))
    for k, dart in on_edge.items():
        found = list(_of_one(panel, ground, dart, k))
        planned = None if found else planned_dart(piece, flat, replace(dart, width=None), name="dart")
        if planned is not None and (planned.overlap > LAP or (dart.width is None and planned.opening < OPENS)):
            found.append(_lets_in(_key(panel, k), planned))
        if not found and planned_dart(piece, flat, dart, name="dart") is None:
            found.append(_folds(_key(panel, k), dart))
        problems.extend(found)
    lines = {k: ground.line(dart) for k, dart in on_edge.items()}
    across = [_seam_line(on_flat(piece, flat.uv, np.atleast_2d(seam))) for seam in seams]
    for k, line in lines.items():
        problems.extend(_across(panel, k) for seam in across if seam.distance(line) < APART)
    problems.extend(_crossing(panel, lines))
    return problems


def _seam_line(flat: Floats) -> LineString:
    """Return a seam on the flat cloth: as it is given, or along the warp through one point."""
    return LineString(flat) if len(flat) > 1 else LineString(flat + np.array([[-FAR, 0.0], [FAR, 0.0]]))


def _across(panel: PanelToCut, number: int) -> Problem:
    return Problem(
        code="dart-crosses-seam",
        key=_key(panel, number),
        found="a seam between two pieces across it, or too near",
        wanted=f"Make the dart shorter, or move the seam or the dart; leave {APART * 1000:.0f} mm.",
    )


def _key(panel: PanelToCut, number: int) -> str:
    return f'panel "{panel.name}", dart {number}'


def _off_edge(panel: PanelToCut, dart: DartToCut, number: int) -> Iterator[Problem]:
    """Return a problem where a dart does not start well inside its edge."""
    along = float(arc_length(panel.vertices[panel.edge(dart.edge).vertices])[-1])
    if not CLEAR <= dart.at <= along - CLEAR:
        yield Problem(
            code="dart-off-edge",
            key=_key(panel, number),
            found=f'its middle {(along - dart.at) * 1000:.0f} mm along "{dart.edge}", which is {along * 1000:.0f} mm',
            wanted=f"Between {CLEAR * 1000:.0f} and {(along - CLEAR) * 1000:.0f} mm.",
        )


def _of_one(panel: PanelToCut, ground: Ground, dart: DartToCut, number: int) -> Iterator[Problem]:
    """Return what is wrong with one dart by itself: too deep, too wide, through a window or a hole."""
    key, deep = _key(panel, number), f"{dart.depth * 1000:.0f} mm deep"
    room = ground.room(dart)
    if dart.depth > room - CLEAR:
        yield Problem(
            code="dart-too-long",
            key=key,
            found=f"{deep}, where the panel is {room * 1000:.0f} mm",
            wanted=f"At most {max(room - CLEAR, 0) * 1000:.0f} mm there.",
        )
    if dart.width is not None and dart.width > WIDEST * dart.depth:
        yield Problem(
            code="dart-too-wide",
            key=key,
            found=f"{dart.width * 1000:.0f} mm wide and {deep}",
            wanted=f"At most {WIDEST * dart.depth * 1000:.0f} mm wide, or make it deeper, or cut two.",
        )
    line = ground.line(dart)
    if ground.clear(dart) < CLEAR:
        free = _free(line, ground.shut)
        shorter = f"Make it {free * 1000:.0f} mm deep, or move" if free > CLEAR else "Move"
        yield Problem(
            code="dart-through-window",
            key=key,
            found=f"{ground.clear(dart) * 1000:.0f} mm from a window or hole",
            wanted=f'{shorter} it along "{dart.edge}"; leave {CLEAR * 1000:.0f} mm.',
        )


def _folds(key: str, dart: DartToCut) -> Problem:
    wide = "" if dart.width is None else f"a width of {dart.width * 1000:.0f} mm, with which "
    return Problem(
        code="dart-too-wide",
        key=key,
        found=f"{wide}the cloth folds over itself when laid flat",
        wanted="Leave the width out, or make it less, or move the dart.",
    )


def _free(line: LineString, shut: shapely.Geometry) -> float:
    """Return how far a line may run in before it comes too near to what it must not cut. [m]."""
    clear = line.difference(shut.buffer(CLEAR))
    first = [g for g in getattr(clear, "geoms", [clear]) if g.distance(line.interpolate(0)) < 1e-9]
    return float(np.floor(first[0].length * 100) / 100) if first else 0.0


def _crossing(panel: PanelToCut, lines: dict[int, LineString]) -> Iterator[Problem]:
    for (one, line), (two, other) in itertools.combinations(lines.items(), 2):
        apart = line.distance(other)
        if apart < APART:
            how = "crosses" if apart == 0 else f"is {apart * 1000:.0f} mm from"
            yield Problem(
                code="darts-cross",
                key=_key(panel, two),
                found=f"it {how} dart {one}",
                wanted=f"Move one along its edge, or make one shorter; leave {APART * 1000:.0f} mm.",
            )


def planned_problems(panel: PanelToCut, darts: Sequence[PlannedDart]) -> list[Problem]:
    """Return a warning for each dart that takes no strain away.

    Parameters
    ----------
    panel : PanelToCut
    darts : sequence of PlannedDart
        Of that panel.
    """
    return [
        _no_help(_key(panel, k), one) for k, one in enumerate(darts, start=1) if one.strain_after > one.strain_before
    ]


def _lets_in(key: str, one: PlannedDart) -> Problem:
    overlap = f"sides that overlap by {one.overlap * 1000:.0f} mm when flat: the cloth wants more there, not less"
    return Problem(
        code="dart-lets-in",
        key=key,
        found=overlap if one.overlap > LAP else "sides that do not open when flat: nothing is to be taken out",
        wanted="Take the dart out; add a seam through there, or more hollow.",
    )


def _no_help(key: str, one: PlannedDart) -> Problem:
    return Problem(
        code="dart-no-help",
        severity="warning",
        key=key,
        found=f"{one.strain_after * 100:.2f} % strain with it and {one.strain_before * 100:.2f} % without",
        wanted="Leave the width out, so that it opens as the cloth asks, or move it.",
    )


def lapped_problems(piece: Piece, flat: Flat) -> list[Problem]:
    """Return a problem for each dart whose legs lie over each other in a part as cut.

    Parameters
    ----------
    piece : Piece
    flat : Flat
    """
    problems: list[Problem] = []
    for name, legs in dart_legs(piece).items():
        lap = -float(leg_gaps(flat.uv, legs).min())
        if lap > LAP:
            problems.append(
                Problem(
                    code="dart-lets-in",
                    key=f'part "{piece.name}", "{name}"',
                    found=f"sides that overlap by {lap * 1000:.0f} mm when flat",
                    wanted="Move the dart or make it shorter, or take it out.",
                )
            )
    return problems
