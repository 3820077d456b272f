"""Put the crew's questions and their answers for the shown set into a line of cells.

Computes: picks and words from records; the vane's words on the usual courses.
Units: per cent, knots, metres in the words; radians inside.
Source: the records of canvas.
Limits: an answer that is still being computed says so; one that is not known is never a pass.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

import numpy as np

from canvas import verbs
from canvas.brief.answer import Answer
from canvas.brief.markup import unbroken
from canvas.brief.verdicts import questions, worst_under_way
from canvas.cloth.rigging import Rigging
from canvas.geometry.surface import Floats
from canvas.study.courses import courses

SEATS = ("port seat", "starboard seat", "helm")
WAKE_WORDS = ("clear", "edge of wake", "in wake")
TONE_OF_WAKE = {"clear": "good", "edge of wake": "close", "in wake": "bad"}
FLOW_WORDS = {
    "pass": "Steers on every course",
    "close": "Too close to call",
    "fail": "Do not count on it",
    "unknown": "Not known",
}


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


def vane_words(rigging: Rigging, set_name: str, *, heel: float) -> Cell:
    """Return whether the vane gets its wind on each course, in the words of `canvas vane`: sight and wake estimate.

    The flow's own verdict takes its place where one has been run; see `flow_cell`.
    """
    listed = courses(rigging.model.design.sailing)
    both = [sign * course.awa for course in listed for sign in (1.0, -1.0)]

    def angles(method: Literal["sector", "wake"]) -> list[dict[str, Any]]:
        record = verbs.vane(rigging, sets=[set_name], method=method, awa=both, heel=heel).record()
        return list(record["sets"][0]["angles"])

    sight, wake = angles("sector"), angles("wake")
    rows = []
    for n, course in enumerate(listed):
        tacks = slice(2 * n, 2 * n + 2)
        share = min(one["clear_share"] for one in sight[tacks])
        word = max((one["wake_word"] for one in wake[tacks]), key=WAKE_WORDS.index)
        rows.append(
            (f"{course.name} ({np.degrees(course.awa):.0f}°)", f"{100 * share:.0f} %, {word}", TONE_OF_WAKE[word])
        )
    first = rows[0][1].replace("%,", "% of the blade in sight of the wind,")
    return Cell(
        key="vane",
        ask="Will the vane steer? (wake: rough, cannot show gains)",
        word=f"Not known. {listed[0].name.capitalize()}: {first}",
        tone="unknown",
        rows=tuple(rows),
    )


def all_round(rigging: Rigging, set_name: str, *, heel: float) -> Answer:
    """Return what the blade sees all round, as `canvas vane` gives it."""
    return verbs.vane(rigging, sets=[set_name], heel=heel)


def with_sentence(cell: Cell, rose: Answer) -> Cell:
    """Return the vane's cell with the sentence of the whole rose."""
    return replace(cell, note=rose.record()["sets"][0]["sentence"].removeprefix("Line of sight: "))


def vane_cell(rigging: Rigging, set_name: str, *, heel: float) -> Cell:
    """Return the vane's cell, words on each course and the sentence of the whole rose."""
    return with_sentence(vane_words(rigging, set_name, heel=heel), all_round(rigging, set_name, heel=heel))


def flow_cell(record: Mapping[str, Any], set_name: str) -> Cell:
    """Return the flow's verdict by course, from the record of `canvas vane --method flow`."""
    one = next(part for part in record["sets"] if part["name"] == set_name)
    overall = worst_under_way(one["courses"])
    rows = tuple(
        (f"{course['name']} ({course['awa_deg']:.0f}°)", _lowest(course), TONES[course["verdict"]])
        for course in one["courses"]
    )
    ask = f"Will the vane steer? (air flow, {cells_said(one['angles'])}; apparent wind)"
    return Cell(
        key="vane", ask=ask, word=FLOW_WORDS[overall],
        note=one["sentence"], tone=TONES[overall], rows=rows,
    )  # fmt: skip


def side_by_side(mine: Cell | None, theirs: Cell) -> list[str]:
    """Return what two cells were asked and what each says; where they know it otherwise, each says how."""
    if mine is None or mine.ask == theirs.ask:
        return [theirs.ask, mine.word if mine else "", theirs.word]
    ask = theirs.ask.partition(" (")[0]
    return [ask, *(one.word + one.ask.removeprefix(ask) for one in (mine, theirs))]


def cells_said(angles: Sequence[Mapping[str, Any]]) -> str:
    """Return the finest cells that some of the flow's angles were run with, in words."""
    low, *_, high = [*sorted(row["cell_m"] for row in angles)] * 2
    return f"cells of {100 * low:.0f} cm" if low == high else f"cells of {100 * low:.0f} to {100 * high:.0f} cm"


def _lowest(course: Mapping[str, Any]) -> str:
    if course["lowest_aws_kn"] is None:
        return str(FLOW_WORDS[course["verdict"]]).lower()
    low, high = course["lowest_aws_kn_low"], course["lowest_aws_kn_high"]
    return f"from {low:.1f} to {high:.1f} kn"


def shade_cell(names: Sequence[str], share: Sequence[float] | Floats, *, sun_up: bool) -> Cell:
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
        ("room", "fit", "Can we sit", "Room, sight, exit?"),
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
        note, tone = found.short or found.note, TONES.get(found.word, "plain")
        cells.append(Cell(key=key, ask=ask, word=found.word, note=unbroken(note), tone=tone))
    return tuple(cells)
