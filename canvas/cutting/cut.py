"""Cut formed panels: pieces, flat, both sides of every seam equal, with allowances, marks and labels, on the roll.

Computes: the whole way from formed panels to a `CutResult`.
Units: metres.
Source: see the modules it calls.
Limits: every problem of every panel is found before anything is raised; with errors nothing is returned.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Concatenate, ParamSpec, TypeVar

import numpy as np

from canvas.cutting.cautions import sag_note, strain_problems, with_seams, zip_problems
from canvas.cutting.choices import CutOptions
from canvas.cutting.closer import closer_nest
from canvas.cutting.dartchecks import dart_problems, lapped_problems, planned_problems
from canvas.cutting.darts import PlannedDart, dart_gaps, legs_apart
from canvas.cutting.finish import Finish, for_tube
from canvas.cutting.flatten import Flat, flatten
from canvas.cutting.join import joint_lengths, joint_notches, joint_notes, seam_notches
from canvas.cutting.laid import MadePanel, MadePiece
from canvas.cutting.made import parts_of
from canvas.cutting.nest import Layout, nest, width_problems
from canvas.cutting.part import Fit, FlatPart
from canvas.cutting.piece import ClothToCut, EdgeToCut, Joint, PanelToCut, Piece, arc_length, edge_length
from canvas.cutting.plan import NoRoomForSeam, Plan, plan_pieces
from canvas.cutting.result import CutDart, CutResult, Divided, EdgeResult, RollLayout, StrainMap
from canvas.cutting.sag import flat_sag
from canvas.cutting.seamchecks import seam_problems
from canvas.cutting.seamkinds import IN_SEAM, KINDS, paired, sided, sided_panels
from canvas.cutting.seams import EdgeKey, EdgeLength, equal_lengths, outline_targets, seam_lengths
from canvas.cutting.slit import dart_legs, leg_gaps
from canvas.cutting.trial import trial_finish, uncompensated
from canvas.design.problems import DesignError, Problem, nearest
from canvas.geometry.surface import Floats
from canvas.jobs.failure import CouldNot
from canvas.survey.carry import edge_fit

Asked = ParamSpec("Asked")
Result = TypeVar("Result")


def cut_panels(
    panels: Sequence[PanelToCut],
    joints: Sequence[Joint],
    *,
    finishes: Mapping[str, Finish],
    options: CutOptions | None = None,
) -> CutResult:
    """Return every new panel cut that is asked for.

    Parameters
    ----------
    panels : sequence of PanelToCut
        New panels, and existing ones that joints name.
    joints : sequence of Joint
    finishes : mapping of str to Finish
        From `canvas.cutting.finish.read_finishes`.
    options : CutOptions, optional

    Raises
    ------
    DesignError
        With every problem found: a part wider than the roll, sides that cannot meet, strain over the cloth's limit,
        finishes without room, text that does not fit.
    CouldNot
        When a piece cannot be laid flat.
    """
    chosen = options or CutOptions()
    if chosen.trial:
        panels = [uncompensated(panel) for panel in panels]
        finishes = {name: trial_finish(finish) for name, finish in finishes.items()}
    finishes = paired(finishes)
    _known_finishes(panels, finishes)
    panels = sided_panels(panels, joints)
    new = [p for p in panels if not p.existing and (chosen.sets is None or p.set_name in chosen.sets)]
    _refuse([one for panel in new for one in _named(panel, _misplaced, chosen)])
    lengths = equal_lengths(panels, joints)
    made = [_named(panel, _make, lengths, finishes, chosen) for panel in new]
    cut = {panel.name for panel in new}
    joints = [joint for joint in joints if joint.panel_a in cut or joint.panel_b in cut]
    problems = [p for m in made for p in m.problems] + zip_problems(joints, lengths)
    parts, found = _drawn(made, panels, joints, lengths, chosen)
    problems.extend(found)
    parts, rolls, found = _rolls(parts, _cloths(panels), chosen)
    problems.extend(found)
    _refuse(problems)
    return CutResult(
        parts=tuple(parts),
        seams=joint_lengths(made, panels, joints),
        edges=tuple(edge for panel in made for edge in _edges(panel)),
        divided=tuple(m.divided for m in made if m.divided is not None),
        darts=tuple(dart for m in made for dart in m.darts),
        rolls=tuple(rolls),
        cautions=tuple(problems),
        strains=tuple(_strain_map(piece) for panel in made for piece in panel.pieces),
        boat=chosen.boat,
        units=chosen.units,
        revision=chosen.revision,
        trial=chosen.trial,
        sets=chosen.sets,
    )


def _refuse(problems: Sequence[Problem]) -> None:
    """Raise what is wrong and no mere caution."""
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        raise DesignError(errors)


def _drawn(
    made: Sequence[MadePanel],
    panels: Sequence[PanelToCut],
    joints: Sequence[Joint],
    lengths: Mapping[EdgeKey, EdgeLength],
    options: CutOptions,
) -> tuple[list[FlatPart], list[Problem]]:
    """Return the parts of all panels with their marks and words, and what is wrong with them."""
    notches = joint_notches(made, joints, lengths) + seam_notches(made)
    notes = joint_notes(joints, lengths, panels=panels, units=options.units)
    each = [parts_of(one, notches, notes=notes, revision=options.revision, trial=options.trial) for one in made]
    return [part for parts, _ in each for part in parts], [problem for _, found in each for problem in found]


def _known_finishes(panels: Sequence[PanelToCut], finishes: Mapping[str, Finish]) -> None:
    problems = [
        Problem(
            code="unknown-finish",
            key=f'panel "{panel.name}", edge "{edge.name}"',
            found=f'"{edge.finish}"',
            wanted=nearest(edge.finish, finishes),
        )
        for panel in panels
        for edge in panel.edges
        if not panel.existing and edge.finish not in finishes
    ]
    if problems:
        raise DesignError(problems)


def _misplaced(panel: PanelToCut, options: CutOptions) -> list[Problem]:
    """Return what is wrong with the seams and darts that a panel's design gives."""
    seams = options.seams.get(panel.name, ())
    return [*seam_problems(panel, seams), *dart_problems(panel, seams)]


def _named(
    panel: PanelToCut, work: Callable[Concatenate[PanelToCut, Asked], Result], *args: Asked.args, **more: Asked.kwargs
) -> Result:
    """Return what some work on a panel gives; what could not be done says in which panel."""
    try:
        return work(panel, *args, **more)
    except CouldNot as trouble:
        if panel.name in trouble.what:
            raise
        raise CouldNot(f'Panel "{panel.name}": {trouble.what}', trouble.advice) from trouble


def _make(
    panel: PanelToCut, lengths: Mapping[EdgeKey, EdgeLength], finishes: Mapping[str, Finish], options: CutOptions
) -> MadePanel:
    """Return the panel divided and laid flat, its problems with it."""
    own = {edge.name: for_tube(finishes[edge.finish], edge.tube_diameter) for edge in panel.edges}
    extra: dict[str, tuple[Fit, float]] = {
        edge.name: ("final", 0.0) if options.trial else _fit(edge, own[edge.name]) for edge in panel.edges
    }
    widest = max(own[name].allowance + extra[name][1] for name in own)
    width = options.roll_widths.get(panel.cloth.name, max(panel.cloth.roll_widths))
    usable = width - 2 * options.selvedge
    seam = max(finishes[side].allowance for side in KINDS[panel.seam_kind])
    panel, plan = _planned(panel, usable=usable, allowance=widest, seam=seam, lines=options.seams.get(panel.name))
    seams = seam_lengths(plan.pieces, panel)
    targets = outline_targets(plan.pieces, panel=panel, lengths=lengths, seams=seams)
    asked = {one.name: one.dart for one in plan.darts}
    pieces: list[MadePiece] = []
    problems: list[Problem] = []
    for piece, target in zip(sided(plan.pieces, panel.seam_kind), targets, strict=True):
        flat = _laid_flat(panel, piece, target, dart_gaps(piece, asked))
        pieces.append(MadePiece(piece=piece, flat=flat))
        problems.extend([*strain_problems(panel, piece, flat), *lapped_problems(piece, flat)])
    divided = Divided(
        panel=panel.name,
        reason=plan.reason,
        pieces=len(pieces),
        strain_whole=plan.strain_whole,
        strain_left=plan.strain_left,
        sag=max(flat_sag(made.piece, made.flat.uv) for made in pieces),
        through=plan.through,
    )
    problems = with_seams(panel, plan, problems)
    if plan.reason:
        problems.append(sag_note(divided))
    problems.extend(planned_problems(panel, plan.darts))
    return MadePanel(
        panel=panel,
        pieces=tuple(pieces),
        finishes=own,
        inner={name: finishes[name] for name in IN_SEAM},
        fits=extra,
        lengths={edge.name: lengths[(panel.name, edge.name)] for edge in panel.edges},
        seams=seams,
        problems=tuple(problems),
        divided=divided if plan.reason else None,
        darts=tuple(_cut_dart(panel, one, pieces) for one in plan.darts),
        units=options.units,
    )


def _laid_flat(
    panel: PanelToCut,
    piece: Piece,
    target: dict[tuple[int, int], float],
    gaps: Mapping[tuple[int, int], float],
) -> Flat:
    """Return a piece flat; legs of darts that come to lie a hair over each other are laid apart."""
    warp, weft = panel.compensation(piece.zone)

    def laid(apart: Mapping[tuple[int, int], float]) -> Flat:
        return flatten(
            piece.vertices,
            piece.faces,
            warp=piece.warp,
            shrink_warp=warp,
            shrink_weft=weft,
            outline_length=target,
            gaps=apart,
        )

    flat = laid(gaps)
    lapped = legs_apart(piece, flat)
    return laid({**lapped, **gaps}) if lapped else flat


def _cut_dart(panel: PanelToCut, planned: PlannedDart, pieces: Sequence[MadePiece]) -> CutDart:
    """Return a dart as it came out flat."""
    made = next(made for made in pieces if planned.name in dart_legs(made.piece))
    legs = dart_legs(made.piece)[planned.name]
    into, back = (float(arc_length(made.flat.uv[leg.vertices])[-1]) for leg in legs)
    return CutDart(
        name=planned.name,
        panel=panel.name,
        part=made.piece.name,
        edge=planned.dart.edge,
        at=edge_length(panel, planned.dart.edge) - planned.dart.at,
        depth=planned.dart.depth,
        width=float(leg_gaps(made.flat.uv, legs)[0]),
        leg_a=into,
        leg_b=back,
        strain_before=planned.strain_before,
        strain_promised=planned.strain_after,
        strain_after=made.flat.strain_inside_most,
    )


def _fit(edge: EdgeToCut, finish: Finish) -> tuple[Fit, float]:
    """Return how an edge is to be cut, and how much longer [m]."""
    found = edge_fit(
        sd=edge.sd,
        play=edge.play,
        tolerance=edge.tolerance or finish.tolerance,
        zipped=edge.finish.startswith("zip"),
        measured=edge.measured is not None,
    )
    return found.fit, found.long_by


def _planned(
    panel: PanelToCut, *, usable: float, allowance: float, seam: float, lines: Sequence[Floats] | None
) -> tuple[PanelToCut, Plan]:
    """Return the panel divided; its grain turned where only so it fits the roll round its windows."""
    try:
        return panel, plan_pieces(panel, usable=usable, allowance=allowance, seam=seam, lines=lines)
    except NoRoomForSeam:
        a, b, c = (panel.vertices[panel.faces[:, k]] for k in range(3))
        across = np.cross(np.cross(b - a, c - a), panel.warp)
        turned = replace(panel, warp=across / np.linalg.norm(across, axis=1, keepdims=True))
        plan = plan_pieces(turned, usable=usable, allowance=allowance, seam=seam)
        why = "; ".join(["grain turned across, for its windows leave no room for a seam", plan.reason]).rstrip("; ")
        return turned, replace(plan, reason=why, through=())


def _cloths(panels: Sequence[PanelToCut]) -> dict[str, ClothToCut]:
    cloths = {panel.cloth.name: panel.cloth for panel in panels if not panel.existing}
    for panel in panels:
        if not panel.existing:
            cloths.update({insert.cloth.name: insert.cloth for insert in panel.inserts})
    return cloths


def _rolls(
    parts: Sequence[FlatPart], cloths: Mapping[str, ClothToCut], options: CutOptions
) -> tuple[list[FlatPart], list[RollLayout], list[Problem]]:
    """Return the parts laid on rolls, cloth by cloth, on the width that wastes least."""
    rolls: list[RollLayout] = []
    problems: list[Problem] = []
    for name in sorted({part.cloth for part in parts}):
        which = [k for k, part in enumerate(parts) if part.cloth == name]
        chosen = [parts[k] for k in which]
        widths = [options.roll_widths[name]] if name in options.roll_widths else sorted(cloths[name].roll_widths)
        fitting = [w for w in widths if not width_problems(chosen, width=w, selvedge=options.selvedge)]
        if not fitting:
            problems.extend(width_problems(chosen, width=max(widths), selvedge=options.selvedge))
            continue
        layouts = [_nested(chosen, width, options, forbidden=options.forbidden.get(name, ())) for width in fitting]
        best = min(range(len(layouts)), key=lambda k: layouts[k].length * layouts[k].width)
        rolls.append(
            RollLayout(
                cloth=name,
                parts=tuple(which),
                layout=layouts[best],
                lengths=tuple((layout.width, layout.length) for layout in layouts),
            )
        )
    return list(parts), rolls, problems


def _nested(
    parts: Sequence[FlatPart], width: float, options: CutOptions, *, forbidden: Sequence[tuple[float, float]]
) -> Layout:
    """Return the parts laid on a roll, closer where the options ask for it and no band is forbidden."""
    if options.closer is None or forbidden:
        return nest(parts, width=width, spacing=options.spacing, selvedge=options.selvedge, forbidden=forbidden)
    return closer_nest(
        [part.cut for part in parts],
        width=width,
        folder=options.closer,
        spacing=options.spacing,
        selvedge=options.selvedge,
        turnable=[part.turnable for part in parts],
    )


def _strain_map(piece: MadePiece) -> StrainMap:
    worst = np.max(np.abs(piece.flat.strain), axis=1)
    mesh = piece.piece
    return StrainMap(part=mesh.name, uv=piece.flat.uv, faces=piece.flat.faces, strain=worst, vertices=mesh.vertices)


def _edges(made: MadePanel) -> list[EdgeResult]:
    """Return the panel's edges as cut, pieces added up."""
    results: list[EdgeResult] = []
    for edge in made.panel.edges:
        length, strain = 0.0, 0.0
        for piece in made.pieces:
            for part in piece.piece.edges:
                if part.name == edge.name and not part.seam:
                    uv = piece.flat.uv[part.vertices]
                    length += float(np.linalg.norm(np.diff(uv, axis=0), axis=1).sum())
                    strain = max(strain, piece.edge_strain(part))
        fit, long_by = made.fits[edge.name]
        results.append(
            EdgeResult(
                panel=made.panel.name,
                name=edge.name,
                finish=edge.finish,
                length=length,
                sd=edge.sd,
                play=edge.play,
                fit=fit,
                long_by=long_by,
                strain_max=strain,
            )
        )
    return results
