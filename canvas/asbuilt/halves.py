"""Hold the zip halves of canvas aboard against those of the new panels that are zipped to it.

Computes: for each new edge along a zip aboard, the half it needs, both lengths, and what keeps them apart.
Units: metres.
Source: `canvas.survey.mating`.
Limits: lengths are those of the cloth as formed in its home set. What a new half does not say is taken as made to
    mate. Edges of two panels that meet run opposite ways, as they do where both run clockwise from outside.
"""

from __future__ import annotations

from dataclasses import dataclass

from canvas.cloth.rigging import Rigging
from canvas.design.problems import Problem
from canvas.design.schema.rig import ZipHalf
from canvas.survey.mating import EQUAL, Mismatch, mate_of, mismatches, turned


@dataclass(frozen=True, slots=True, kw_only=True)
class Halves:
    """One new edge along a zip aboard.

    Attributes
    ----------
    panel, edge : str
        The new one.
    aboard, aboard_edge : str
        The canvas aboard.
    needed : ZipHalf
        The half that the new edge gets.
    length : float
        [m] Of the new edge.
    aboard_length : float or None
        [m] Of the zip aboard, as measured.
    model_length : float
        [m] Of that edge as the marks have it.
    mismatches : tuple of Mismatch
    known : bool
        Whether a zip aboard was described at all.
    """

    panel: str
    edge: str
    aboard: str
    aboard_edge: str
    needed: ZipHalf
    length: float
    aboard_length: float | None
    model_length: float
    mismatches: tuple[Mismatch, ...]
    known: bool


def zip_halves(rigging: Rigging) -> tuple[Halves, ...]:
    """Return every new edge that is zipped to canvas aboard, in the order of the file.

    Parameters
    ----------
    rigging : Rigging

    Raises
    ------
    CouldNot
        When a panel has no shape in balance.
    """
    design = rigging.model.design
    aboard = {panel.name: panel for panel in design.panel if panel.existing}
    found = []
    for panel in design.panel:
        for place, edge in enumerate(panel.edges):
            other = aboard.get(edge.along or "")
            if panel.existing or other is None or not (edge.finish or "").startswith("zip"):
                continue
            there = [one.name for one in other.edges].index(edge.edge)
            half = other.edges[there].zip
            needed = mate_of(half, edge.zip)
            length = rigging.cut_shape(panel.name).edges[place].length
            part = edge.start is not None or edge.to is not None
            taken = None if half is None else half.length
            goes_on = part and taken is not None and length <= taken + EQUAL  # past the new edge
            said = taken if goes_on else length
            found.append(
                Halves(
                    panel=panel.name,
                    edge=rigging.cut_shape(panel.name).edges[place].name,
                    aboard=other.name,
                    aboard_edge=str(edge.edge),
                    needed=needed,
                    length=length,
                    aboard_length=taken,
                    model_length=rigging.cut_shape(other.name).edges[there].length,
                    mismatches=() if half is None else mismatches(half, turned(needed), new_length=said),
                    known=half is not None,
                )
            )
    return tuple(found)


def half_problems(rigging: Rigging) -> tuple[Problem, ...]:
    """Return a warning for each new half that is known not to run with the one aboard."""
    source = rigging.model.source
    names = [panel.name for panel in source.design.panel]
    problems = []
    for one in zip_halves(rigging):
        index = names.index(one.panel)
        place = [edge.name for edge in rigging.cut_shape(one.panel).edges].index(one.edge)
        problems += [
            source.problem(
                ("panel", index, "edges", place),
                code="zips-do-not-mate",
                severity="warning",
                found=f"{odd.what.replace('_', ' ')} {odd.new} on a zip aboard of {odd.aboard}",
                wanted=f'Make the new half to run with "{one.aboard}: {one.aboard_edge}", or measure that one again.',
            )
            for odd in one.mismatches
            if odd.known
        ]
    return tuple(problems)
