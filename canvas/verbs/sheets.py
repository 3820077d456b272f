"""Make the printed sheets: what to measure, and how to rig the mock-up.

Computes: a measuring plan, its sheet and a list to type values into; the mock-up sheet of each set with new canvas.
Units: SI in; sheets use the design's own units or those asked for.
Source: the layers below.
Limits: nothing is printed here; the files stay in the answer until saved.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from canvas.asbuilt.tomeasure import to_measure
from canvas.brief.answer import Answer
from canvas.brief.measuring import fill_in, measuring_sheet
from canvas.brief.mockup import fill_in as to_type
from canvas.brief.mockup import mockup_sheet
from canvas.brief.paper import paper_of, pdf_of
from canvas.brief.records import sheets as sheet_records
from canvas.jobs.files import distinct, renamed, sealed, slug
from canvas.survey.from_design import survey_of
from canvas.verbs.asking import DesignLike, boat_to_measure, chosen_sets, panels_to_make, rigging_of


def sheet(
    design: DesignLike, *, paper: str | None = None, units: str | None = None, name: str = "measuring-sheet.pdf"
) -> Answer:
    """Plan the readings that pin and check every mark for the least effort, and lay out the sheet to write them on.

    Beside it stands a list of the same readings to type the values into. Readings that are in the design already cost
    no more effort; the three further ones that help most are named.

    Parameters
    ----------
    design : path, Source or Rigging
    paper : str, optional
        ``A4`` or ``Letter``; the shop's own where absent.
    units : str, optional
        ``m``, ``mm``, ``ft`` or ``in``; the design's own where absent.
    name : str
        Of the file; the list to type into goes beside it, as TOML.

    Raises
    ------
    DesignError
        When the design has too few marks to plan a survey of.
    """
    boat = boat_to_measure(design, unfinished=True)
    found = to_measure(boat.rigging, survey_of(boat.source))
    size = paper_of(boat.source.design.shop, paper)
    document = measuring_sheet(boat.rigging, found, paper=size, units=units)
    typed = renamed(name, "toml")
    return Answer(
        verb="sheet",
        rigging=boat.rigging,
        results={},
        top=found,
        files={
            name: pdf_of(document, paper=size),
            typed: sealed(fill_in(boat.source.design, found, units=units)),
        },
        lists=frozenset({typed}),
        problems=boat.problems,
        writer=sheet_records.sheet_record,
    )


def mockup(
    design: DesignLike,
    *,
    sets: Sequence[str] | None = None,
    paper: str | None = None,
    units: str | None = None,
    name: str = "mockup.pdf",
) -> Answer:
    """Lay out the sheet from which two people rig a set in cord and old cloth; a list to type what came out beside it.

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
    new = panels_to_make(rigging)
    asked = sets or [
        s for s in chosen_sets(rigging, None, bare=False) if any(up.panel in new for up in plan.panels_up(s))
    ]
    names = chosen_sets(rigging, asked)
    size = paper_of(plan.shop, paper)
    files: dict[str, bytes] = {}
    for one, file in zip(names, _file_names(name, names), strict=True):
        files[file] = pdf_of(mockup_sheet(rigging, one, paper=size, units=units), paper=size)
        files[renamed(file, "toml")] = sealed(to_type(rigging, one, units=units))
    return Answer(
        verb="mockup",
        rigging=rigging,
        results=dict.fromkeys(names),
        files=files,
        lists=frozenset(file for file in files if file.endswith(".toml")),
        writer=sheet_records.mockup_record,
    )


def _file_names(name: str, set_names: Sequence[str]) -> list[str]:
    """Return the file of each set: what was asked for where it is one, else with the set's name behind it."""
    if len(set_names) == 1:
        return [name]
    path = Path(name)
    return [f"{path.stem}-{one}{path.suffix}" for one in distinct(slug(one) for one in set_names)]
