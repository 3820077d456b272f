"""Make the printed sheets: what to measure, and how to rig the mock-up.

Computes: a measuring plan and its sheet; the mock-up sheet of each set with new canvas.
Units: SI in; sheets use the design's own units or those asked for.
Source: the layers below.
Limits: nothing is printed here; the files stay in the answer until saved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from canvas.brief.answer import Answer
from canvas.brief.measuring import measuring_sheet
from canvas.brief.mockup import mockup_sheet
from canvas.brief.paper import pdf_of
from canvas.brief.records import sheets as sheet_records
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem
from canvas.survey.datum import Datum
from canvas.survey.from_design import survey_of
from canvas.survey.plan import next_readings, plan_readings, possible_readings
from canvas.survey.readings import Session
from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of

REACH = 4.0  # marks farther than this from the middle of them all are not taped from the cockpit [m]
LEVEL = "level"


def sheet(
    design: DesignLike, *, paper: str = "A4", units: str | None = None, name: str = "measuring-sheet.pdf"
) -> Answer:
    """Plan the readings that pin and check every mark for the least effort, and lay out the sheet to write them on.

    Parameters
    ----------
    design : path, Source or Rigging
    paper : str
        ``A4`` or ``Letter``.
    units : str, optional
        ``m``, ``mm``, ``ft`` or ``in``; the design's own where absent.
    name : str
        Of the file.

    Raises
    ------
    DesignError
        When the design has too few marks to plan a survey of.
    """
    rigging = rigging_of(design)
    places = _near(rigging)
    if len(places) < 4:
        raise DesignError(
            [Problem(code="few-marks", key="marks", found=f"{len(places)} marks", wanted="Name four or more.")]
        )
    held = {mark: places[mark] for mark in rigging.model.design.survey.held if mark in places}
    datum = Datum(held=held) if len(held) >= 3 else Datum(rough=places)
    possible = possible_readings(places, held=tuple(held), session=LEVEL)
    plan = plan_readings(possible, places, datum=datum, sessions=(Session(name=LEVEL),))
    survey = survey_of(rigging.model.source)
    advice = (
        next_readings(survey.entries, possible, places, datum=datum, sessions=(*survey.sessions, Session(name=LEVEL)))
        if survey.entries and all(mark in places for entry in survey.entries for mark in entry.marks)
        else ()
    )
    document = measuring_sheet(rigging, plan.readings, paper=paper, units=units)
    return Answer(
        verb="sheet",
        rigging=rigging,
        results={},
        top=(plan, advice),
        files={name: pdf_of(document, paper=paper)},
        writer=sheet_records.sheet_record,
    )


def mockup(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    paper: str = "A4",
    units: str | None = None,
    name: str = "mockup.pdf",
) -> Answer:
    """Lay out the sheet from which two people rig a set in cord and old cloth.

    Parameters
    ----------
    design : path, Source or Rigging
    sets : sequence of str, optional
        Every set with new canvas where absent, a file each.
    paper, units, name : str
        As in `sheet`.
    """
    rigging = rigging_of(design)
    plan = rigging.model.design
    new = {panel.name for panel in plan.panel if not panel.existing}
    asked = sets or [
        s for s in chosen_sets(rigging, None, bare=False) if any(up.panel in new for up in plan.panels_up(s))
    ]
    names = chosen_sets(rigging, asked)
    files = {
        _file_name(name, one, alone=len(names) == 1): pdf_of(
            mockup_sheet(rigging, one, paper=paper, units=units), paper=paper
        )
        for one in names
    }
    return Answer(
        verb="mockup", rigging=rigging, results=dict.fromkeys(names), files=files, writer=sheet_records.mockup_record
    )


def _file_name(name: str, set_name: str, *, alone: bool) -> str:
    if alone:
        return name
    stem, _, ending = name.rpartition(".")
    return f"{stem}-{set_name.replace(' ', '-').replace(',', '')}.{ending}"


def _near(rigging: Rigging) -> Mapping[str, tuple[float, float, float]]:
    marks = rigging.model.marks
    middle = np.median(marks.xyz, axis=0)
    near = np.linalg.norm(marks.xyz - middle, axis=1) <= REACH
    return {
        name: (float(x), float(y), float(z))
        for name, (x, y, z), keep in zip(marks.names, marks.xyz, near, strict=True)
        if keep
    }
