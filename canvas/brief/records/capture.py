"""Write the records of `scan` and `photo`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: differences that are no more than chance are listed too, unnamed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.survey.marks import Marks


def scan_record(answer: Answer) -> Record:
    """Return the record of `scan`."""
    found = answer.top
    named = [one for one in found.differences if one.named]
    solid = "no solid" if found.solid is None else f"a solid of {found.solid.num_tri()} triangles"
    top: Record = {
        "sentence": (
            f"{len(found.marks.names)} marks from {found.triangles} triangles, one unit of the scan being "
            f"{1000 * found.frame.scale:.4g} mm (within {100 * found.frame.scale_sd:.2g} %); {solid}; "
            + _disagreement(len(named))
        ),
        "scale_m": float(found.frame.scale),
        "scale_sd_share": float(found.frame.scale_sd),
        "sigma0": found.frame.sigma0,
        "marks": _marks(found.marks, found.snapped),
        "differences": _differences(found.differences),
        "box": {"low_m": found.low, "high_m": found.high},
        "triangles": found.triangles,
        "points": found.points,
        "solid_triangles": None if found.solid is None else found.solid.num_tri(),
        "files": list(answer.files),
    }
    return envelope("scan", answer.source, sets={}, top=top, problems=answer.problems)


def _disagreement(count: int) -> str:
    if not count:
        return "nothing disagrees with the design by more than chance."
    return (
        f"{count} thing{'s' if count > 1 else ''} disagree{'' if count > 1 else 's'} with the design: see differences."
    )


def _marks(marks: Marks, snapped: Sequence[bool]) -> list[Record]:
    return [
        {"name": name, "x_m": float(x), "y_m": float(y), "z_m": float(z), "sd_m": float(sd), "snapped": on}
        for name, (x, y, z), sd, on in zip(marks.names, marks.xyz, marks.largest_sd(), snapped, strict=True)
    ]


def _differences(differences: Sequence[Any]) -> list[Record]:
    listed = sorted(differences, key=lambda one: not one.named)
    return [
        {"name": one.name, "against": one.against, "off_m": one.off, "sd_m": one.sd, "named": one.named}
        for one in listed
    ]


def target_record(answer: Answer) -> Record:
    """Return the record of `photo` where it lays out targets."""
    stuck = answer.top
    ties = sum(one.mark.startswith("tie ") for one in stuck)
    top = {
        "sentence": f"{len(stuck) - ties} targets for marks and {ties} ties: print, stick, photograph.",
        "targets": [
            {"number": one.number, "name": one.mark, "size_mm": 1000 * one.size, "behind_mm": 1000 * one.behind}
            for one in stuck
        ],
        "files": list(answer.files),
    }
    return envelope("photo", answer.source, sets={}, top=top, problems=answer.problems)


def photo_record(answer: Answer) -> Record:
    """Return the record of `photo`."""
    found = answer.top
    used = [one for one in found.photos if not one.said]
    moved = "; ".join(f"target {one.number} ({one.mark}) moved" for one in found.moved) or "no target moved"
    top: Record = {
        "sentence": (
            f"{len(found.marks.names)} marks from {len(used)} of {len(found.photos)} photographs, corners within "
            f"{found.pixel_sd:.2g} pixels; {moved}; {_readings_off(found.disagreements)}"
        ),
        "marks": [
            {"name": name, "x_m": float(x), "y_m": float(y), "z_m": float(z), "sd_m": float(sd), "photos": int(count)}
            for name, (x, y, z), sd, count in zip(
                found.marks.names, found.marks.xyz, found.marks.largest_sd(), found.views, strict=True
            )
        ],
        "moved": [
            {
                "number": one.number,
                "name": one.mark,
                "by_m": one.by,
                "after_photo": one.before,
                "before_photo": one.after,
            }
            for one in found.moved
        ],
        "disagreements": [
            {"reading": one.name, "off_m": one.residual, "standardised": one.standardised}
            for one in found.disagreements
        ],
        "photos": [
            {"name": one.file, "targets": one.targets, "misfit_px": one.misfit, "not_used": one.said or None}
            for one in found.photos
        ],
        "focal_px": [float(one) for one in found.focal],
        "printed_size_share": 1 + found.stretch,
        "pixel_sd_px": found.pixel_sd,
        "files": list(answer.files),
    }
    return envelope("photo", answer.source, sets={}, top=top, problems=answer.problems)


def _readings_off(disagreements: Sequence[Any]) -> str:
    if not disagreements:
        return "all readings agree."
    return f"{disagreements[0].name} does not agree with them."
