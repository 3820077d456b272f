"""List what is odd or missing in a design that reads well: values out of the usual range, and what answers would need.

Computes: warnings and notes with line and key; nothing here stops the work.
Units: SI.
Source: ranges in tables/defaults.toml, each with its source.
Limits: only what one record shows by itself; geometry is checked by `canvas.geometry`.
"""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import BaseModel

from canvas.design.positions import Path
from canvas.design.problems import Problem
from canvas.design.reading import Source
from canvas.design.tables import default_entry


def oddities(source: Source) -> tuple[Problem, ...]:
    """Return warnings about unusual values and notes about what is missing, in the order of the file's parts."""
    return (*_out_of_range(source, source.design, ()), *_arched(source), *_missing(source))


def _out_of_range(source: Source, record: BaseModel, path: Path) -> Iterator[Problem]:
    for name, field in type(record).model_fields.items():
        value = getattr(record, name)
        here: Path = (*path, field.alias or name)
        extra = field.json_schema_extra
        entry_name = extra.get("default_entry") if isinstance(extra, dict) else None
        if entry_name is not None and name in record.model_fields_set and isinstance(value, int | float):
            entry = default_entry(str(entry_name))
            if not entry.low <= value <= entry.high:
                yield source.problem(
                    here,
                    code="unusual-value",
                    severity="warning",
                    found=f"{value:.4g} in SI units",
                    wanted=f"Usual is {entry.low:.4g} to {entry.high:.4g} ({entry.source}). Check it.",
                )
        elif isinstance(value, BaseModel):
            yield from _out_of_range(source, value, here)
        elif isinstance(value, list):
            for index, element in enumerate(value):
                if isinstance(element, BaseModel):
                    yield from _out_of_range(source, element, (*here, index))


def _arched(source: Source) -> Iterator[Problem]:
    """Warn of battens bent to an arch that nothing but their ends holds up."""
    for index, panel in enumerate(source.design.panel):
        for place, edge in enumerate(panel.edges):
            ends = (edge.to, panel.edges[place - 1].to)
            if panel.existing or not edge.batten_bow or any(tie.at not in ends for tie in panel.ties):
                continue
            yield source.problem(
                ("panel", index, "edges", place, "batten_bow"),
                code="arched-batten",
                severity="warning",
                found=f"a batten that stands {edge.batten_bow * 1000:.0f} mm outside its chord, tied at its ends alone",
                wanted="Cloth turns it over about its chord, however stiff: leave it straight, or tie its middle.",
            )


def _missing(source: Source) -> Iterator[Problem]:
    design = source.design
    assumed = f"guessed, not measured: {', '.join(design.assumed)}"
    wishes: list[tuple[bool, Path, str, str]] = [
        (
            bool(design.assumed),
            ("assumed",),
            assumed,
            "Measure each, then take it off this list.",
        ),
        (
            design.instrument.height is None,
            ("instrument",),
            "no height of the wind instrument",
            "The mast top is taken.",
        ),
        (not design.sailing.boat_speed, ("sailing",), "no boat speeds", "A share of the true wind is taken."),
        (
            not design.outlet,
            (),
            "no [[outlet]]",
            "Say where exhaust and heater leave, for the carbon monoxide caution.",
        ),
        (not design.winch, (), "no [[winch]]", "Without winches their handles are not checked."),
        (design.vane.must_steer_from is None, ("vane",), "no must_steer_from", "1.3 times steers_from is taken."),
        (len(design.set) == 0, (), "no [[set]]", 'Only "bare" can be answered.'),
    ]
    for index, person in enumerate(design.crew):
        wishes.append(
            (
                person.sitting_height is None, ("crew", index), "no sitting_height",
                "It is estimated from the stature; measure it, seat to crown.",
            )
        )  # fmt: skip
    for absent, path, found, wanted in wishes:
        if absent:
            yield source.problem(path, code="not-said", severity="note", found=found, wanted=wanted)
