"""Turn a panel's flat pieces into parts: edges with finishes, openings, patches, flaps, labels.

Computes: the parts of one panel, those of its windows, patches and flaps among them.
Units: metres.
Source: see part.py, openings.py, label.py.
Limits: patches and flaps are cut from the panel's own cloth.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from textwrap import wrap

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from canvas.cutting.join import JointNotch
from canvas.cutting.label import labelled
from canvas.cutting.laid import MadePanel, MadePiece
from canvas.cutting.openings import Opening, chafe_patches, corner_patches, insert_opening, pierced_opening
from canvas.cutting.outline import OutlineEdge, dart_folds
from canvas.cutting.part import FlatPart, Label, Notch, PartEdge, make_part, notch_on
from canvas.cutting.piece import Piece, PieceEdge
from canvas.cutting.seams import EdgeKey
from canvas.cutting.sheet import Layer, Line
from canvas.cutting.slit import DART, dart_legs, leg_gaps
from canvas.cutting.split import outline_loop
from canvas.design.problems import Problem
from canvas.design.units import small_length
from canvas.geometry.surface import Floats

FLAP_TURN = 0.013  # [m] round a flap; common practice
SHORT = (22, 15, 10)  # letters in a line of a small part's label
LEAN = 0.3  # a direction counts as lying in the cloth from this share on


def parts_of(
    made: MadePanel,
    notches: Sequence[JointNotch],
    *,
    notes: Mapping[EdgeKey, str],
    revision: str,
    trial: bool,
) -> tuple[list[FlatPart], list[Problem]]:
    """Return the parts of a panel and what is wrong with them.

    Parameters
    ----------
    made : MadePanel
    notches : sequence of JointNotch
        Of all joints and seams; those of this panel are drawn.
    notes : mapping
        What is written on joined edges, by panel and edge.
    revision : str
    trial : bool
    """
    parts: list[FlatPart] = []
    problems: list[Problem] = []
    for piece in made.pieces:
        openings, found = _openings(made, piece, trial=trial)
        problems.extend(found)
        part, wrong = _main_part(made, piece, notches, openings, notes=notes)
        problems.extend(wrong)
        label = _label(made, part, piece, revision=revision, trial=trial)
        part, problem = labelled(
            part, label, keep_off=[o.region for o in openings if not o.region.is_empty], rather_off=_patches(openings)
        )
        problems.extend([problem] if problem is not None else [])
        parts.append(part)
        for opening in [*openings, *([] if trial else _flaps(made, piece))]:
            if opening.own is not None and not trial:
                own, problem = _own_part(made, piece, opening, revision=revision)
                parts.append(own)
                problems.extend([problem] if problem is not None else [])
    return parts, problems


def _patches(openings: Sequence[Opening]) -> list[Polygon]:
    """Return where patches are sewn on."""
    return [
        Polygon(item.points) for one in openings if one.region.is_empty for item in one.items if isinstance(item, Line)
    ]


def _openings(made: MadePanel, piece: MadePiece, *, trial: bool) -> tuple[list[Opening], list[Problem]]:
    panel = made.panel
    openings: list[Opening] = []
    problems: list[Problem] = []
    if not Polygon(piece.flat.uv[outline_loop(piece.piece.faces)]).is_valid:
        return openings, problems  # said where the part is drawn: its outline crosses itself
    for insert in panel.inserts:
        opening, found = insert_opening(piece.piece, piece.flat, insert)
        problems.extend(found)
        openings.extend([opening] if opening is not None else [])
    for piercing in panel.piercings:
        if holds(piece.piece, piercing.at):
            openings.append(
                pierced_opening(
                    piece.piece,
                    piece.flat,
                    name=f"collar {piercing.name}",
                    at=piercing.at,
                    diameter=piercing.diameter,
                    slit=piercing.slit,
                    collar=piercing.collar,
                )
            )
    if not trial:
        contacts = [line[[holds(piece.piece, p) for p in line]] for line in panel.contacts if len(line)]
        openings.extend(chafe_patches(piece.piece, piece.flat, contacts))
        tied = [k for k in _corners(piece.piece) if any(np.hypot(*(piece.piece.vertices[k] - t)[:2]) +
                abs(piece.piece.vertices[k][2] - t[2]) < 0.02 for t in panel.ties)]  # fmt: skip
        openings.extend(corner_patches(piece.piece, piece.flat, tied))
    return openings, problems


def _corners(piece: Piece) -> list[int]:
    return [int(edge.vertices[0]) for edge in piece.edges]


def holds(piece: Piece, point: Floats, *, within: float = 0.03) -> bool:
    """Return whether a point (3,) lies on the piece's formed cloth, `within` so many metres."""
    a, b, c = (piece.vertices[piece.faces[:, k]] for k in range(3))
    middle = (a + b + c) / 3
    reach = np.max(np.linalg.norm(np.stack([a, b, c]) - middle, axis=2), axis=0)
    return bool(np.any(np.linalg.norm(middle - point, axis=1) < reach + within * 0.1))


def _main_part(
    made: MadePanel,
    piece: MadePiece,
    notches: Sequence[JointNotch],
    openings: Sequence[Opening],
    *,
    notes: Mapping[EdgeKey, str],
) -> tuple[FlatPart, tuple[Problem, ...]]:
    edges: list[OutlineEdge] = []
    part_edges: list[PartEdge] = []
    marks: list[Notch] = []
    for edge in piece.piece.edges:
        flat_edge, part_edge = _one_edge(made, piece, edge, notes=notes)
        edges.append(flat_edge)
        part_edges.append(part_edge)
        marks.extend(_marks_on(made, piece, edge, flat_edge, notches))
    worst = int(np.argmax(np.max(np.abs(piece.flat.strain), axis=1)))
    return make_part(
        edges,
        name=piece.piece.name,
        panel=made.panel.name,
        set_name=made.panel.set_name,
        cloth=made.panel.cloth.name,
        part_edges=part_edges,
        notches=marks,
        extra_items=[*dart_folds(edges), *(item for opening in openings for item in opening.items)],
        holes=[opening.hole for opening in openings if opening.hole is not None],
        strains=(
            piece.flat.strain_edge_max,
            piece.flat.strain_inside_max,
            piece.flat.uv[piece.flat.faces[worst]].mean(axis=0),
        ),
        stretch=_stretch(piece),
        turnable=True,
    )


def _one_edge(
    made: MadePanel, piece: MadePiece, edge: PieceEdge, *, notes: Mapping[EdgeKey, str]
) -> tuple[OutlineEdge, PartEdge]:
    """Return an edge as it is drawn, and what is said of it."""
    fit, long_by = made.fit(edge)
    finish = made.finish(edge)
    points = piece.flat.uv[edge.vertices]
    span = made.length(edge).at(edge.arc[[0, -1]])
    note = "" if edge.seam else notes.get((made.panel.name, edge.name), "")
    said = PartEdge(
        name=edge.name,
        finish=finish.name,
        points=points,
        length=float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum()),
        seam=edge.seam,
        sd=None if edge.seam else made.panel.edge(edge.name).sd,
        fit=fit,
        long_by=long_by,
        strain=piece.edge_strain(edge),
        span=(float(span[0]), float(span[1])),
        note=_dart_note(made, edge) if edge.seam and edge.finish == DART else note,
    )
    return OutlineEdge(name=edge.name, finish=finish, points=points, seam=edge.seam, extra=long_by), said


def _dart_note(made: MadePanel, leg: PieceEdge) -> str:
    """Return what is written on a dart's legs: how much it takes out, how deep it is."""
    dart = next(one for one in made.darts if one.name == leg.name)
    return f"takes out {small_length(dart.width, made.units)}, {small_length(dart.depth, made.units)} deep"


def _marks_on(
    made: MadePanel, piece: MadePiece, edge: PieceEdge, drawn: OutlineEdge, notches: Sequence[JointNotch]
) -> list[Notch]:
    """Return the match marks that fall on an edge; those of a dart reach less than half across it."""
    span = made.length(edge).at(edge.arc[[0, -1]])
    most: dict[int, float] = {}
    if edge.seam and edge.finish == DART:
        opening = float(leg_gaps(piece.flat.uv, dart_legs(piece.piece)[edge.name])[0])
        most = {n.number: 0.45 * opening * (1 - n.at / float(span.max())) for n in notches if n.edge == edge.name}
    return [
        notch_on(
            drawn,
            place=abs(notch.at - float(span[0])),
            joint=notch.joint,
            number=notch.number,
            along_joint=notch.place,
            most=most.get(notch.number),
        )
        for notch in notches
        if notch.panel == made.panel.name and notch.edge == edge.name and _between(notch.at, span)
    ]


def _stretch(piece: MadePiece) -> tuple[float, float]:
    """Return the mean strain along warp and weft from flat to the formed shape, by area."""
    uv, faces = piece.flat.uv, piece.flat.faces
    flat = np.stack([uv[faces[:, k]] - uv[faces[:, 0]] for k in (1, 2)], axis=2)
    formed = np.stack([piece.piece.vertices[faces[:, k]] - piece.piece.vertices[faces[:, 0]] for k in (1, 2)], axis=2)
    grow = formed @ np.linalg.inv(flat)
    area = np.linalg.det(flat)
    mean = area @ (np.linalg.norm(grow, axis=1) - 1) / area.sum()
    return float(mean[0]), float(mean[1])


def _between(place: float, span: Floats) -> bool:
    return bool(span.min() + 1e-9 < place < span.max() - 1e-9)


def _label(made: MadePanel, part: FlatPart, piece: MadePiece, *, revision: str, trial: bool) -> Label:
    forward, side = _arrow(piece)
    cloth = "trial: paper or sheeting" if trial else made.panel.cloth.name
    lines = [
        part.name,
        f"set: {made.panel.set_name}",
        f"{cloth}, cut {part.count}",
        side,
        f"revision {revision}",
    ]
    return Label(lines=tuple(lines), forward=forward, units=made.units)


def _arrow(piece: MadePiece) -> tuple[Floats, str]:
    """Return the flat direction that points forward on the boat, or up where it stands athwart; how it is said."""
    forward = _gradient(piece, -piece.piece.vertices[:, 0])
    up = _gradient(piece, piece.piece.vertices[:, 2])
    if np.hypot(*forward) >= LEAN or np.hypot(*forward) >= np.hypot(*up):
        return forward, "this side out; arrow forward"
    return up, "this side out; arrow up"


def _gradient(piece: MadePiece, value: Floats) -> Floats:
    """Return the mean flat gradient of a value given at the vertices, weighted by area."""
    uv, faces = piece.flat.uv, piece.flat.faces
    p, q = uv[faces[:, 1]] - uv[faces[:, 0]], uv[faces[:, 2]] - uv[faces[:, 0]]
    dp, dq = value[faces[:, 1]] - value[faces[:, 0]], value[faces[:, 2]] - value[faces[:, 0]]
    doubled = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    # sum of gradient times area: (dp q_perp - dq p_perp) / 2
    x = float(np.sum(dp * q[:, 1] - dq * p[:, 1])) / float(doubled.sum())
    y = float(np.sum(dq * p[:, 0] - dp * q[:, 0])) / float(doubled.sum())
    return np.array([x, y])


def _flaps(made: MadePanel, piece: MadePiece) -> list[Opening]:
    """Return the rain flap over each edge whose finish has one, as a part of its own."""
    flaps: list[Opening] = []
    for edge in piece.piece.edges:
        finish = made.finish(edge)
        if finish.flap <= 0:
            continue
        line = LineString(piece.flat.uv[edge.vertices])
        strip = shapely.make_valid(line.buffer(-finish.flap, single_sided=True, join_style="mitre"))
        strip = max(getattr(strip, "geoms", [strip]), key=lambda g: g.area)
        outline = np.asarray(shapely.orient_polygons(Polygon(strip.exterior)).simplify(1e-6).exterior.coords)[:-1]
        flaps.append(
            Opening(
                name=f"flap {edge.name}", region=Polygon(), items=(), own=outline, own_allowance=FLAP_TURN, one_way=True
            )
        )
    return flaps


def _own_part(made: MadePanel, piece: MadePiece, opening: Opening, *, revision: str) -> tuple[FlatPart, Problem | None]:
    """Return the part an opening needs: a window, a patch, a collar, a flap."""
    own = opening.own
    if own is None:
        raise TypeError(opening.name)
    shape = Polygon(own)
    cut = np.asarray(
        shapely.orient_polygons(shape.buffer(opening.own_allowance, quad_segs=24)).simplify(1e-6).exterior.coords
    )[:-1]
    name = f"{piece.piece.name}: {opening.name}"
    cloth = opening.cloth or made.panel.cloth.name
    part = FlatPart(
        name=name,
        panel=made.panel.name,
        set_name=made.panel.set_name,
        cloth=cloth,
        finished=own,
        cut=cut,
        edges=(),
        notches=(),
        items=(Line(layer=Layer.CUT, points=cut, closed=True), Line(layer=Layer.SEW, points=own, closed=True)),
        area=shape.area,
        cut_area=Polygon(cut).area,
        strain_edge_max=0.0,
        strain_inside_max=0.0,
        strain_at=np.asarray(shape.centroid.coords[0]),
    )
    whose, last = f"for {piece.piece.name}", f"revision {revision}"
    forward, side = _arrow(piece) if opening.one_way else (None, "")
    ways = [
        *([[name, f"{cloth}, cut 1", side, last]] if opening.one_way else []),
        [name, f"{cloth}, cut 1", last],
        [opening.name, whose, f"{cloth}, cut 1", last],
        *([*wrap(opening.name, width), *wrap(whose, width), last] for width in SHORT),
        [opening.name, revision],
        [opening.name],
    ]
    for lines in ways:
        done, problem = labelled(part, Label(lines=tuple(lines), forward=forward if side in lines else None))
        if problem is None:
            return done, None
    return done, replace(problem, severity="warning") if problem is not None else None
