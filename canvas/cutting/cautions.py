"""Say what is to be known of a cut: strain over the limit, zips that are too short, how far flat cloth stays off.

Computes: problems and notes from what was laid flat.
Units: metres; strain without unit.
Source: none.
Limits: strain is held against the limit by all but the corners, see flatten.py.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from canvas.cutting.darts import Dart, best_darts
from canvas.cutting.flatten import Flat
from canvas.cutting.piece import Joint, PanelToCut, Piece, edge_length
from canvas.cutting.plan import Plan, further_seams
from canvas.cutting.result import Divided
from canvas.cutting.seams import EdgeKey, EdgeLength
from canvas.design.problems import Problem
from canvas.geometry.surface import Floats


def sag_note(divided: Divided) -> Problem:
    """Return a note on why a panel was divided, how far flat cloth would stay off it, and how to choose other seams."""
    off = f"Flat cloth that did not give would stay {divided.sag * 1000:.0f} mm off the shape between seams."
    chosen = f" To choose for yourself, change seams = [{_written(divided.through)}]." if divided.through else ""
    return Problem(
        code="flat-sag",
        severity="note",
        key=f'panel "{divided.panel}"',
        found=f"{divided.pieces} pieces: {divided.reason}; strain left {divided.strain_left * 100:.1f} %",
        wanted=off + chosen,
    )


def with_seams(panel: PanelToCut, plan: Plan, problems: Sequence[Problem]) -> list[Problem]:
    """Return problems with the seams added to words on strain that would take it away, where some would.

    Parameters
    ----------
    panel : PanelToCut
    plan : Plan
        As it was divided.
    problems : sequence of Problem
    """
    if all(one.code != "strain-over-limit" for one in problems):
        return list(problems)
    more = further_seams(panel, plan)
    if not more.through:
        return list(problems)
    what = "A seam" if len(more.through) == 1 else f"{len(more.through)} seams"
    said = f" {what} more would leave {more.strain_left * 100:.1f} %: add {_written(more.through)} to seams."
    return [replace(one, wanted=one.wanted + said) if one.code == "strain-over-limit" else one for one in problems]


def _written(places: Sequence[Floats]) -> str:
    """Return places as a design's file gives them, to a millimetre."""
    return ", ".join("[" + ", ".join(f'"{part:.3f} m"' for part in place) + "]" for place in places)


def strain_problems(panel: PanelToCut, piece: Piece, flat: Flat) -> list[Problem]:
    """Return a problem where strain passes the limit and what edges kept at full length add: the compensation."""
    cloth = panel.cloth
    limit = cloth.strain_limit
    most = max(flat.strain_inside_most, flat.strain_edge_max)
    if most <= limit + max(cloth.warp_compensation, cloth.weft_compensation):
        return []
    at = flat.uv[flat.faces[int(np.argmax(np.max(np.abs(flat.strain), axis=1)))]].mean(axis=0)
    return [
        Problem(
            code="strain-over-limit",
            key=f'part "{piece.name}"',
            found=f"{most * 100:.1f} % strain in {cloth.name}, which takes {limit * 100:.1f} %, "
            f"worst at {at[0]:.2f} m along and {at[1]:.2f} m across",
            wanted="Add a seam through that place, give the panel flat = true or less hollow, "
            f"or choose a cloth that gives more.{_dart_words(panel, piece)}",
        )
    ]


def _dart_words(panel: PanelToCut, piece: Piece) -> str:
    """Return a sentence on the darts that would help most, as the design would ask for them; empty where none does."""
    darts = best_darts(piece, off=np.array([one.at for one in panel.piercings]).reshape(-1, 3))
    if not darts:
        return ""
    each = [
        f'of {dart.length * 1000:.0f} mm from "{dart.edge}", {_at(panel, dart):.2f} m along it, '
        f"{'taking out' if dart.opening > 0 else 'letting in'} {abs(dart.opening) * 1000:.0f} mm"
        for dart in darts
    ]
    said = f" A dart {', and one '.join(each)}, would leave {darts[-1].strain_after * 100:.1f} %"
    if darts[0].opening < 0 or panel.darts == "proposed":
        return f"{said}."
    asked = [
        f'{{ edge = "{dart.edge}", at = "{_at(panel, dart) * 1000:.0f} mm", depth = "{dart.length * 1000:.0f} mm" }}'
        for dart in darts
    ]
    return f'{said}: write darts = [{", ".join(asked)}], or darts = "proposed".'


def _at(panel: PanelToCut, dart: Dart) -> float:
    """Return where along its edge a dart starts, as the design's file counts: from the edge's other end. [m]."""
    return edge_length(panel, dart.edge) - dart.place


def zip_problems(joints: Sequence[Joint], lengths: Mapping[EdgeKey, EdgeLength]) -> list[Problem]:
    """Return a problem for each zip whose tape is shorter than its edge."""
    problems: list[Problem] = []
    for joint in joints:
        length = lengths[(joint.panel_a, joint.edge_a)].total
        if joint.kind == "zip" and joint.tape is not None and length > joint.tape + 0.003:
            problems.append(
                Problem(
                    code="seam-longer-than-zip",
                    key=f'zip "{joint.name}"',
                    found=f"an edge of {length * 1000:.0f} mm and a zip of {joint.tape * 1000:.0f} mm",
                    wanted=f"Join only {joint.tape * 1000:.0f} mm of the edge with from and to, or fit a longer zip.",
                )
            )
    return problems
