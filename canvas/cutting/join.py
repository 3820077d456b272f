"""Bring both sides of seams and zips together: match marks on either side, and their lengths as cut.

Computes: where each match mark falls along each edge; flat lengths of both sides, measured on the flat pieces.
Units: metres.
Source: see seams.py.
Limits: an existing side carries no marks; its length is as measured.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canvas.cutting.laid import MadePanel
from canvas.cutting.piece import Joint, PanelToCut, arc_length
from canvas.cutting.result import SeamLength
from canvas.cutting.seamkinds import UNDER
from canvas.cutting.seams import EdgeKey, EdgeLength, notch_places
from canvas.design.units import small_length


@dataclass(frozen=True, slots=True, kw_only=True)
class JointNotch:
    """A match mark as a place along one edge.

    Attributes
    ----------
    panel, edge, joint : str
    number : int
        Along the joint, from 1.
    place : float
        Along the joint. [m]
    at : float
        Flat length along the edge from its first corner. [m]
    """

    panel: str
    edge: str
    joint: str
    number: int
    place: float
    at: float


def joint_notches(
    made: Sequence[MadePanel], joints: Sequence[Joint], lengths: Mapping[EdgeKey, EdgeLength]
) -> list[JointNotch]:
    """Return the match marks of every joint on both its edges."""
    cut = {panel.panel.name for panel in made}
    notches: list[JointNotch] = []
    for joint in joints:
        a, b = lengths[(joint.panel_a, joint.edge_a)], lengths[(joint.panel_b, joint.edge_b)]
        ends = b.at(np.array(joint.span_b) * b.arc[-1])
        common = float(abs(ends[1] - ends[0]))
        sign = 1.0 if ends[1] > ends[0] else -1.0
        for number, place in enumerate(notch_places(common), start=1):
            if joint.panel_a in cut:
                at = float(place * a.total / common)
                notches.append(_notch(joint, joint.panel_a, joint.edge_a, number, float(place), at))
            if joint.panel_b in cut:
                at = float(ends[0] + sign * place)
                notches.append(_notch(joint, joint.panel_b, joint.edge_b, number, float(place), at))
    return notches


def _notch(joint: Joint, panel: str, edge: str, number: int, place: float, at: float) -> JointNotch:  # noqa: PLR0917
    return JointNotch(panel=panel, edge=edge, joint=joint.name, number=number, place=place, at=at)


def joint_notes(
    joints: Sequence[Joint], lengths: Mapping[EdgeKey, EdgeLength], *, panels: Sequence[PanelToCut], units: str
) -> dict[EdgeKey, str]:
    """Return what is written on each joined edge: which zip half, where its slider parks, its tape, what it meets."""
    notes: dict[EdgeKey, str] = {}
    other = {"left": "right", "right": "left"}
    named = {panel.name: panel for panel in panels}
    for joint in joints:
        tape = lengths[(joint.panel_a, joint.edge_a)].total
        make = " ".join(filter(None, [joint.tooth, f"gauge {joint.gauge}" if joint.gauge else ""]))
        starts = joint.slider_end == "start"
        against = joint.span_b[0] > joint.span_b[1]
        for panel, edge, mate, half, first in (
            (joint.panel_a, joint.edge_a, joint.panel_b, joint.handing, starts),
            (joint.panel_b, joint.edge_b, joint.panel_a, other.get(joint.handing, ""), starts != against),
        ):
            said = [f"meets {mate}"]
            if joint.kind == "zip":
                said += [f"{half} half" if half else "", make, f"tape {small_length(tape, units)}"]
                said += [_slider_note(named[panel], edge, first=first) if joint.slider_end else ""]
            known = notes.get((panel, edge), "")
            notes[(panel, edge)] = "; ".join(filter(None, [known, ", ".join(filter(None, said))]))
    return notes


def _slider_note(panel: PanelToCut, edge: str, *, first: bool) -> str:
    """Return at which end of an edge the slider parks, named by the edge that it meets there."""
    names = [one.name for one in panel.edges]
    k = names.index(edge)
    return f'slider parks at "{names[k - 1] if first else names[(k + 1) % len(names)]}"'


def seam_notches(made: Sequence[MadePanel]) -> list[JointNotch]:
    """Return the match marks of every seam between pieces of one panel."""
    notches: list[JointNotch] = []
    for panel in made:
        for name, length in panel.seams.items():
            for number, place in enumerate(notch_places(length.total), start=1):
                notches.append(
                    JointNotch(
                        panel=panel.panel.name,
                        edge=name,
                        joint=name,
                        number=number,
                        place=float(place),
                        at=float(place),
                    )
                )
    return notches


def joint_lengths(
    made: Sequence[MadePanel], panels: Sequence[PanelToCut], joints: Sequence[Joint]
) -> tuple[SeamLength, ...]:
    """Return both sides of every joint and every seam between pieces, measured flat where they are cut."""
    by_name = {panel.panel.name: panel for panel in made}
    others = {panel.name: panel for panel in panels}
    result: list[SeamLength] = []
    for joint in joints:
        sides = []
        for panel, edge, span in (
            (joint.panel_a, joint.edge_a, (0.0, 1.0)),
            (joint.panel_b, joint.edge_b, joint.span_b),
        ):
            if panel in by_name:
                sides.append(_flat_length(by_name[panel], edge, span))
            else:
                there = others[panel].edge(edge)
                whole = there.measured or float(arc_length(others[panel].vertices[there.vertices])[-1])
                sides.append(whole * abs(span[1] - span[0]))
        result.append(
            SeamLength(
                name=joint.name,
                kind=joint.kind,
                panel_a=joint.panel_a,
                panel_b=joint.panel_b,
                length_a=sides[0],
                length_b=sides[1],
                ease=joint.ease,
            )
        )
    for laid in made:
        result.extend(_own_seams(laid))
    return tuple(result)


def _flat_length(panel: MadePanel, edge: str, span: tuple[float, float]) -> float:
    """Return the flat length of part of a panel's edge, measured on its pieces."""
    size = panel.lengths[edge].arc[-1]
    low, high = min(span) * size, max(span) * size
    total = 0.0
    for piece in panel.pieces:
        for part in piece.piece.edges:
            if part.name == edge and not part.seam:
                along = arc_length(piece.flat.uv[part.vertices])
                order = np.argsort(part.arc)
                first, last = np.interp([low, high], part.arc[order], along[order])
                total += abs(float(last - first))
    return total


def _own_seams(panel: MadePanel) -> list[SeamLength]:
    result: list[SeamLength] = []
    for name in panel.seams:
        sides: dict[bool, float] = {False: 0.0, True: 0.0}
        finishes: set[str] = set()
        for piece in panel.pieces:
            for part in piece.piece.edges:
                if part.seam and part.name == name:
                    rising = bool(part.arc[-1] > part.arc[0])
                    finishes.add(part.finish)
                    sides[rising] += float(arc_length(piece.flat.uv[part.vertices])[-1])
        result.append(
            SeamLength(
                name=name,
                kind="seam",
                panel_a=panel.panel.name,
                panel_b=panel.panel.name,
                length_a=sides[True],
                length_b=sides[False],
                ease=0.0,
                finish=next(name for name in sorted(finishes) if name not in UNDER.values()),
            )
        )
    return result
