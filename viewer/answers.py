"""Put the crew's questions and their answers for the shown set into a line of cells.

Computes: picks and words from records; where the blade sees the wind on the usual courses.
Units: per cent, knots, metres in the words; radians inside.
Source: the records of canvas; apparent wind of each course from the design's own boat speeds.
Limits: an answer that is still being computed says so; one that is not known is never a pass.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from canvas import verbs
from canvas.air.wind import KNOT, apparent
from canvas.brief.verdicts import questions
from canvas.cloth.rigging import Rigging
from canvas.design.schema.design import Design
from canvas.wind.sector import Sector, sector

SEATS = ("port seat", "starboard seat", "helm")
TRUE_WIND_KN = 12.0  # in which the courses are told; common practice, no source
SEEN, HALF = 0.9, 0.5  # shares of the blade from which a course reads as clear, or as partly hidden


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One question and its answer.

    Attributes
    ----------
    key : str
        Short name.
    ask : str
        The question, as the crew would ask it.
    word : str
        The answer in a word or a figure.
    note : str
        A line of small print.
    tone : str
        ``good``, ``close``, ``bad``, ``unknown`` or ``plain``; always said in the word too.
    rows : tuple of (str, str, str)
        Name, figure, tone, where an answer has parts.
    """

    key: str
    ask: str
    word: str
    note: str = ""
    tone: str = "plain"
    rows: tuple[tuple[str, str, str], ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the cell for the page."""
        return asdict(self)


WAITING = "computing …"
TONES = {"pass": "good", "close": "close", "fail": "bad", "unknown": "unknown"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One usual course and the apparent wind on it."""

    name: str
    awa: float


def courses(design: Design) -> tuple[Course, ...]:
    """Return the usual courses with their apparent wind angle, port and starboard alike [rad]."""
    sailing = design.sailing
    found = [Course(name="close-hauled", awa=sailing.close_hauled_awa)]
    rows = sorted(sailing.boat_speed, key=lambda row: row.true_wind)
    winds = [row.true_wind for row in rows]
    for name, twa_deg in (("reach", 90), ("run 120", 120), ("run 150", 150), ("run 180", 180)):
        speeds = [row.reach if twa_deg == 90 else row.run for row in rows]
        boat = float(np.interp(TRUE_WIND_KN * KNOT, winds, speeds)) if rows else 0.0
        found.append(Course(name=name, awa=abs(float(apparent(TRUE_WIND_KN * KNOT, np.radians(twa_deg), boat).angle))))
    return (*found, Course(name="at anchor", awa=0.0))


def sight_by_course(rigging: Rigging, set_name: str, *, heel: float) -> tuple[tuple[Course, float], ...]:
    """Return for each course the share of the blade that sees the wind, on the worse tack."""
    listed = courses(rigging.model.design)
    angles = np.array([sign * course.awa for course in listed for sign in (1.0, -1.0)])
    clear = sector(rigging.rig(set_name).scene, awa=angles, heel=heel).clear_share.reshape(-1, 2).min(axis=1)
    return tuple((course, float(share)) for course, share in zip(listed, clear, strict=True))


def vane_cell(rigging: Rigging, set_name: str, *, heel: float) -> Cell:
    """Return whether the vane gets its wind, in the words of `canvas vane`."""
    record = verbs.vane(rigging, sets=[set_name], heel=heel).record()
    one = record["sets"][0]
    rows = tuple(
        (f"{course.name} ({np.degrees(course.awa):.0f}°)", f"{100 * share:.0f} %", _sight_tone(share))
        for course, share in sight_by_course(rigging, set_name, heel=heel)
    )
    return Cell(
        key="vane",
        ask="Will the vane steer? (line of sight only)",
        word=f"Not known. Close-hauled, {rows[0][1]} of its blade sees the wind",
        note=one["sentence"].removeprefix("Line of sight: "),
        tone="unknown",
        rows=rows,
    )


def _sight_tone(share: float) -> str:
    return "good" if share >= SEEN else "close" if share >= HALF else "bad"


def shade_cell(names: Sequence[str], share: Sequence[float], *, sun_up: bool) -> Cell:
    """Return the shade of the seats now."""
    rows = [(name, value) for name, value in zip(names, share, strict=True) if name in SEATS]
    if not sun_up:
        return Cell(key="shade", ask="Shade now?", word="Sun down", note="no sun to keep off")
    mean = float(np.mean([value for _, value in rows]))
    return Cell(
        key="shade", ask="Shade now?", word=f"{100 * mean:.0f} %",
        note="of the seats out of the sun, traced", rows=tuple((name, f"{100 * v:.0f} %", "plain") for name, v in rows),
    )  # fmt: skip


def day_cell(names: Sequence[str] | None = None, share: Sequence[float] | None = None) -> Cell:
    """Return the shade of the seats over the day; still computing where none is given."""
    if names is None or share is None:
        return Cell(key="day", ask="Over the day?", word=WAITING)
    rows = [(name, value) for name, value in zip(names, share, strict=True) if name in SEATS]
    known = [value for _, value in rows if np.isfinite(value)]
    if not known:
        return Cell(key="day", ask="Over the day?", word="Polar night", note="the sun does not rise")
    return Cell(
        key="day", ask="Over the day?", word=f"{100 * float(np.mean(known)):.0f} %",
        note="shade, mean of the hours of sun", rows=tuple((name, f"{100 * v:.0f} %", "plain") for name, v in rows),
    )  # fmt: skip


def record_cells(records: Mapping[str, Mapping[str, Any] | None], set_name: str) -> tuple[Cell, ...]:
    """Return the cells that come from whole records: rain, room, strike-at wind, cloth.

    Parameters
    ----------
    records : mapping of str to record
        By verb; None where still computing.
    set_name : str
    """
    known = {verb: record for verb, record in records.items() if record is not None}
    asked = {question.text: question.answers.get(set_name) for question in questions(known, close_hauled_deg=32.0)}
    cells = []
    for key, verb, start, ask in (
        ("rain", "rain", "Does it keep the rain", "Dry in rain?"),
        ("room", "fit", "Can we sit", "Room, sight, way out?"),
        ("strike", "loads", "When must it", "Strike at?"),
        ("cloth", "buy", "How much cloth", "Cloth to buy?"),
    ):
        if verb not in records:
            continue
        if records[verb] is None:
            cells.append(Cell(key=key, ask=ask, word=WAITING))
            continue
        found = next((cell for text, cell in asked.items() if text.startswith(start)), None)
        if found is None:
            cells.append(Cell(key=key, ask=ask, word="nothing new to buy" if key == "cloth" else "nothing up"))
            continue
        cells.append(Cell(key=key, ask=ask, word=found.word, note=found.note, tone=TONES.get(found.word, "plain")))
    return tuple(cells)


def rose_of(rigging: Rigging, set_name: str, *, heel: float) -> Sector:
    """Return the vane's rose of a set."""
    return sector(rigging.rig(set_name).scene, heel=heel)


def check_rows(record: Mapping[str, Any]) -> list[dict[str, str]]:
    """Return the checks of a set for the page, worst first."""
    rank = ("fail", "close", "unknown", "pass")
    found = [one for one in record["sets"][0]["checks"] if one["verdict"] in rank]
    return [
        {
            "name": one["name"], "verdict": one["verdict"], "tone": TONES[one["verdict"]],
            "value": _figure(one["value"], one["unit"]), "limit": _figure(one["limit"], one["unit"]),
        }
        for one in sorted(found, key=lambda one: rank.index(one["verdict"]))
    ]  # fmt: skip


def _figure(value: Any, unit: str) -> str:
    if value is None:
        return "–"
    return f"{value:.3g} {unit}" if isinstance(value, float) else f"{value} {unit}"
