"""Write the records of `check` and `survey`: marks, panels, readings.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: see `canvas.brief.records`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from canvas.asbuilt.built import AsBuilt
from canvas.asbuilt.halves import Halves
from canvas.brief.records import Record, envelope
from canvas.survey.marks import Marks
from canvas.survey.suspects import Judgement
from canvas.survey.symmetry import Difference

if TYPE_CHECKING:
    from canvas.brief.answer import Answer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surveyed:
    """What a survey found.

    Attributes
    ----------
    marks : Marks
    judgement : Judgement
    differences : tuple of Difference
        Between port and starboard.
    halves : tuple of Halves
        New edges that are zipped to canvas aboard.
    built : mapping of str to AsBuilt
        Panels on which readings were taken.
    """

    marks: Marks
    judgement: Judgement
    differences: tuple[Difference, ...]
    halves: tuple[Halves, ...]
    built: Mapping[str, AsBuilt]


def mark_rows(marks: Marks) -> list[Record]:
    """Return the marks with their standard deviation along the longest axis, null where coordinates were only typed."""
    read = {name for reading in marks.readings for name in reading.marks}
    return [
        {
            "name": name, "x_m": float(place[0]), "y_m": float(place[1]), "z_m": float(place[2]),
            "sd_m": float(sd) if sd > 0 or name in read else None,
        }
        for name, place, sd in zip(marks.names, marks.xyz, marks.largest_sd(), strict=True)
    ]  # fmt: skip


def check_record(answer: Answer) -> Record:
    """Return the record of `check`: panels with their areas, marks."""
    sets = {
        name: {"panels": [{"name": shape.name, "area_m2": shape.area()} for shape in rig.formed.panels]}
        for name, rig in answer.results.items()
    }
    top = {"marks": mark_rows(answer.rigging.model.marks)}
    return envelope("check", answer.source, sets=sets, top=top, problems=answer.problems)


def survey_record(answer: Answer) -> Record:
    """Return the record of `survey`: marks, suspects, unseen errors, differences, zip halves, canvas as it came out."""
    found: Surveyed = answer.top
    marks, judgement = found.marks, found.judgement
    top = {
        "marks": mark_rows(marks),
        "suspects": [
            {
                "reading": suspect.name,
                "line": suspect.reading.where.line,
                "found_m": suspect.found,
                "probable_m": suspect.probable,
                "probable_sd_m": suspect.probable_sd,
                "slip": suspect.slip,
                "standardised": suspect.standardised,
                "critical": suspect.critical,
            }
            for suspect in judgement.suspects
        ],
        "unseen": [
            {
                "reading": unseen.name,
                "line": unseen.reading.where.line,
                "redundancy": unseen.redundancy,
                "least_seen_m": unseen.least_seen,
            }
            for unseen in judgement.unseen
        ],
        "sigma0": marks.sigma0,
        "degrees_of_freedom": marks.degrees_of_freedom,
        "differences": [_difference(one) for one in found.differences],
        "zips": [row for one in found.halves for row in _halves(one)],
        **_as_built(found.built),
        "sentence": " ".join([_survey_sentence(len(marks.readings), judgement), *_built_sentences(found.built)]),
    }
    return envelope("survey", answer.source, sets={}, top=top, problems=answer.problems)


def _difference(one: Difference) -> Record:
    """Return a pair of marks; of two that were only typed, nothing says whether they really differ."""
    known = bool(one.sd.any())
    sds = [float(sd) if known else None for sd in one.sd]
    return {
        "port": one.port,
        "starboard": one.starboard,
        "aft_m": one.aft,
        "outboard_m": one.outboard,
        "up_m": one.up,
        "aft_sd_m": sds[0],
        "outboard_sd_m": sds[1],
        "up_sd_m": sds[2],
        "real": one.real if known else None,
    }


def _halves(one: Halves) -> list[Record]:
    """Return a row for each thing that keeps two zip halves apart, or one that says all fits."""
    same = {
        "name": f"{one.panel}: {one.edge}",
        "mates": f"{one.aboard}: {one.aboard_edge}",
        "needs_half": one.needed.half,
        "length_m": one.length,
        "aboard_length_m": one.aboard_length,
        "model_length_m": one.model_length,
    }
    if not one.known:
        return [{**same, "what": "zip", "aboard": "not measured", "new": None, "verdict": "unknown"}]
    if not one.mismatches:
        return [{**same, "what": None, "aboard": None, "new": None, "verdict": "pass"}]
    return [
        {
            **same,
            "what": odd.what,
            "aboard": odd.aboard,
            "new": odd.new,
            "verdict": "fail" if odd.known else "unknown",
        }
        for odd in one.mismatches
    ]


def _as_built(built: Mapping[str, AsBuilt]) -> Record:
    """Return what was measured on canvas against its design: panels, spots, edges and readings."""
    return {
        "measured_panels": [
            {"name": name, "largest_m": one.largest, "honoured": one.bent.honoured} for name, one in built.items()
        ],
        "measured_spots": [
            {
                "panel": name,
                "name": spot.name,
                "aft_m": float(spot.by[0]),
                "to_starboard_m": float(spot.by[1]),
                "up_m": float(spot.by[2]),
                "sd_m": spot.sd,
            }
            for name, one in built.items()
            for spot in one.moved
        ],
        "measured_edges": [
            {
                "panel": name,
                "name": edge.name,
                "length_m": edge.length,
                "designed_length_m": edge.length_designed,
                "hollow_m": edge.hollow,
                "designed_hollow_m": edge.hollow_designed,
            }
            for name, one in built.items()
            for edge in one.edges
        ],
        "measured_readings": [
            {
                "panel": name,
                "reading": reading.name,
                "line": reading.reading.where.line,
                "read_m": reading.read,
                "designed_m": reading.designed,
                "residual_m": reading.residual,
            }
            for name, one in built.items()
            for reading in one.readings
        ],
    }


def _built_sentences(built: Mapping[str, AsBuilt]) -> Sequence[str]:
    return [
        f"{name} came out up to {1000 * one.largest:.0f} mm from its design; everything takes it as measured, and "
        "canvas cut --against an earlier folder lists the patterns that change."
        + ("" if one.bent.honoured else f" Readings on {name} contradict each other: see those with large residuals.")
        for name, one in built.items()
    ]


def _survey_sentence(readings: int, judgement: Judgement) -> str:
    if readings == 0:
        return "No readings: every mark stands as typed, and nothing checks it."
    if judgement.suspects:
        worst = judgement.suspects[0]
        slip = f" ({worst.slip})" if worst.slip else ""
        return (
            f"{len(judgement.suspects)} of {readings} readings disagree with the others. "
            f"Most likely wrong: {worst.name}, read {worst.found:.3f} m, probably {worst.probable:.3f} m{slip}. "
            "Measure it again."
        )
    return f"{readings} readings agree with one another; in {len(judgement.unseen)} of them an error would hardly show."
