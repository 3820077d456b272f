"""Ask for the numbers that matter: each with its unit, a usual value, and the range in which it is believable.

Computes: usual values and ranges from the answers before; values in SI from what was typed.
Units: metres, metres a second inside; a bare number typed takes the unit of the design (lengths) or knots.
Source: ranges and proportions are common practice, no source, for sailing yachts of 7 to 18 m.
Limits: an answer outside its range is refused; such a boat is written by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from canvas.design import units

Answers = Mapping[str, float | str]
Usual = Callable[[Answers], float | str]
Range = Callable[[Answers], tuple[float, float]]

COAMING = 0.15  # width of a coaming [m]; common practice, no source
HANGS_OVER = 0.065  # deck behind the cockpit as a share of the boat's length; common practice, no source
LEAST_AFT_DECK = 0.30  # [m]
ROUNDED = 0.001  # the ends of a range are shown rounded and may be typed so [m] or [m/s]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question of the guided start.

    Attributes
    ----------
    key : str
        Of its answer.
    asks : str
        The question, in one line.
    kind : str
        ``name``, ``choice``, ``length`` or ``speed``.
    usual : callable
        From the answers before to the value taken when nothing is typed; SI.
    believable : callable or None
        From the answers before to the least and the greatest value believed; SI. None for names and choices.
    choices : tuple of str
        Of a choice.
    """

    key: str
    asks: str
    kind: Literal["name", "choice", "length", "speed"]
    usual: Usual
    believable: Range | None = None
    choices: tuple[str, ...] = ()


def number(answers: Answers, key: str) -> float:
    """Return an answer that is a number."""
    return float(answers[key])


def transom(answers: Answers) -> float:
    """Return x of the transom's top [m]."""
    aft_deck = max(LEAST_AFT_DECK, HANGS_OVER * number(answers, "length"))
    return number(answers, "cockpit_length") + aft_deck


def _share(key: str, share: float, *, least: float = 0.0, most: float = 100.0) -> Usual:
    return lambda said: round(min(most, max(least, share * number(said, key))), 2)


def _above(key: str, more: float) -> Usual:
    return lambda said: round(number(said, key) + more, 2)


def _between(low: float, high: float) -> Range:
    return lambda _: (low, high)


def _from(key: str, low: float, high: float) -> Range:
    return lambda said: (number(said, key) + low, number(said, key) + high)


def _length(key: str, asks: str, usual: Usual, believable: Range) -> Question:
    return Question(key=key, asks=asks, kind="length", usual=usual, believable=believable)


def _choice(key: str, asks: str, *choices: str) -> Question:
    return Question(key=key, asks=asks, kind="choice", usual=lambda _: choices[0], choices=choices)


_QUESTIONS: tuple[Question, ...] = (
    Question(key="name", asks="What is the boat called?", kind="name", usual=lambda _: "My boat"),
    _choice("units", "Which unit do you measure in?", "m", "mm", "ft", "in"),
    _choice("steered_by", "Is she steered by a wheel or a tiller?", "wheel", "tiller"),
    _length("length", "Length of the hull", lambda _: 10.5, _between(7.0, 18.0)),
    _length("beam", "Greatest beam", _share("length", 0.32), lambda said: (
        max(2.0, 0.2 * number(said, "length")), min(6.0, 0.5 * number(said, "length")))),
    _length("cockpit_length", "Cockpit, from the companionway bulkhead to its aft end",
            _share("length", 0.21, least=1.6), _between(1.5, 4.0)),
    _length("cockpit_width", "Cockpit, between the insides of the coamings", _share("beam", 0.54),
            lambda said: (1.0, 0.72 * number(said, "beam") - 2 * COAMING)),
    _length("seat_height", "Seats, above the cockpit sole", lambda _: 0.42, _between(0.30, 0.60)),
    _length("coaming_height", "Top of the coamings, above the sole", _above("seat_height", 0.36),
            _from("seat_height", 0.15, 0.70)),
    _length("sole_above_water", "Cockpit sole, above the water", lambda _: 0.35, _between(0.05, 1.5)),
    _length("boom_height", "Underside of the boom at its lowest, above the sole", lambda _: 2.10,
            lambda said: (max(1.6, number(said, "coaming_height") + 0.8), 3.5)),
    _length("hood_height", "Top of the spray hood's aft bow, above the sole", _above("boom_height", -0.35),
            lambda said: (number(said, "coaming_height") + 0.5, min(number(said, "boom_height") - 0.05,
                                                                    number(said, "coaming_height") + 1.3))),
    _choice("bimini", "Is there a bimini, or shall there be one?", "yes", "no"),
    _length("crew_first", "How tall is the first of the crew?", lambda _: 1.70, _between(1.3, 2.2)),
    _length("crew_second", "How tall is the second?", lambda _: 1.80, _between(1.3, 2.2)),
    _choice("vane_kind", "Does the vane move a pendulum in the water, or a tab on the rudder?",
            "servo pendulum", "trim tab"),
    _length("blade_aft", "Foot of the vane's air blade, aft of the companionway bulkhead",
            lambda said: round(transom(said) + 0.40, 2), lambda said: (transom(said) - 0.2, transom(said) + 2.0)),
    _length("blade_foot", "Foot of the air blade, above the sole", lambda _: 1.50, _between(0.6, 3.0)),
    _length("blade_height", "Height of the air blade itself", lambda _: 0.80, _between(0.3, 1.5)),
    Question(key="steers_from", asks="Least apparent wind, at the masthead, in which the vane steers", kind="speed",
             usual=lambda _: 5.5 * units.KNOT, believable=_between(2 * units.KNOT, 20 * units.KNOT)),
)  # fmt: skip


def questions() -> tuple[Question, ...]:
    """Return the questions in the order in which they are asked; a usual value may hang on answers before."""
    return _QUESTIONS


def usual(question: Question, answers: Answers) -> float | str:
    """Return the value taken when nothing is typed, inside the believable range."""
    value = question.usual(answers)
    if question.believable is None:
        return value
    low, high = question.believable(answers)
    return min(high, max(low, float(value)))


def complete(answers: Answers) -> Answers:
    """Return the answers with the usual value for each that is missing.

    Parameters
    ----------
    answers : mapping of str to float or str
        SI; any of them.
    """
    whole: dict[str, float | str] = {}
    for question in _QUESTIONS:
        whole[question.key] = answers.get(question.key, usual(question, whole))
    return whole


def shown(value: float | str, question: Question, *, unit: str) -> str:
    """Return a value as the user would type it.

    Parameters
    ----------
    value : float or str
        SI, or the word itself.
    question : Question
    unit : str
        In which lengths are said; speeds are in knots.
    """
    if question.kind == "length":
        return units.length_text(float(value), unit)
    return f"{float(value) / units.KNOT:.3g} kn" if question.kind == "speed" else str(value)


def answer_from(typed: str, question: Question, answers: Answers) -> float | str:
    """Return the value of an answer as typed; nothing typed takes the usual one.

    Parameters
    ----------
    typed : str
    question : Question
    answers : mapping
        Those given before.

    Raises
    ------
    ValueError
        When it does not read or is not believed; its text says what would do.
    """
    text = typed.strip()
    if not text:
        return usual(question, answers)
    if question.kind == "name":
        if not text.isprintable() or len(text) > 80:
            raise ValueError("Write a name of at most 80 letters.")
        return text
    if question.kind == "choice":
        fits = [choice for choice in question.choices if choice.casefold().startswith(text.casefold())]
        exact = [choice for choice in fits if choice.casefold() == text.casefold()]
        if len(exact or fits) != 1:
            raise ValueError(f"Write one of: {', '.join(question.choices)}.")
        return (exact or fits)[0]
    unit = str(answers.get("units", "m"))
    value = units.speed(text) if question.kind == "speed" else units.length(text, bare=unit)
    if question.believable is not None:
        low, high = question.believable(answers)
        if not low - ROUNDED <= value <= high + ROUNDED:
            span = f"{shown(low, question, unit=unit)} to {shown(high, question, unit=unit)}"
            read = shown(value, question, unit=unit)
            raise ValueError(
                f"That is hard to believe; write {span}, or write the design by hand. It was read as {read}."
            )
    return value
