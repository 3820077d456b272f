"""Start a new boat on the screen: the questions of the guided start as a form, drawn as they are answered.

Computes: a design's text from what was typed; usual values for what was not; what is refused.
Units: as typed; a bare length takes the unit chosen.
Source: canvas/design/guided.
Limits: an answer that is not believable is said beside it, and the last believable boat goes on being shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from canvas.design.guided.boat import design_text
from canvas.design.guided.questions import answer_from, questions, shown, usual
from viewer.building import bare_frames

BEGIN = {"canvas": "with the usual canvas to change", "frames": "with bare frames, no canvas"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """The form as it stands.

    Attributes
    ----------
    rows : tuple of dict
        A question each: key, what it asks, value shown, choices, what is wrong with it.
    answers : dict
        SI, of all questions.
    wrong : bool
        Whether any answer is refused.
    """

    rows: tuple[dict[str, Any], ...]
    answers: dict[str, float | str]
    wrong: bool


def form_of(typed: Mapping[str, str]) -> Form:
    """Return the form with what was typed; what was not takes its usual value, which follows what was."""
    answers: dict[str, float | str] = {}
    rows = []
    for question in questions():
        unit = str(answers.get("units", "m"))
        value, wrong = usual(question, answers), ""
        text = typed.get(question.key, "").strip()
        if text:
            try:
                value = answer_from(text, question, answers)
            except ValueError as refused:
                wrong = str(refused)
        answers[question.key] = value
        said = text if wrong else shown(value, question, unit=unit)
        rows.append(
            {
                "key": question.key, "asks": question.asks, "value": said, "choices": list(question.choices),
                "wrong": wrong, "touched": bool(text),
            }
        )  # fmt: skip
    return Form(rows=tuple(rows), answers=answers, wrong=any(row["wrong"] for row in rows))


def text_of(form: Form, *, begin: str, path: Path) -> str:
    """Return the design's text for the answers, with the usual canvas or with bare frames."""
    text = design_text(form.answers)
    return bare_frames(text, path=path) if begin == "frames" else text


def file_name(name: str, folder: Path) -> Path:
    """Return a file name for a boat that is not taken yet."""
    stem = "".join(letter if letter.isalnum() else "-" for letter in name.lower()).strip("-") or "boat"
    path, number = folder / f"{stem}.toml", 2
    while path.exists():
        path, number = folder / f"{stem}-{number}.toml", number + 1
    return path
