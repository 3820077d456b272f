"""Put the questions one after another, ask again where an answer makes no sense, and draw after each.

Computes: nothing; how lines are read and shown is given from outside.
Units: none.
Source: none.
Limits: the end of the input counts as wishing to stop.
"""

from __future__ import annotations

from collections.abc import Callable

from canvas.design.guided.questions import Answers, answer_from, questions, shown, usual
from canvas.design.guided.sketch import sketch
from canvas.jobs.failure import Stopped


def interview(
    ask: Callable[[str], str], show: Callable[[str], None], *, draw: Callable[[Answers], None] | None = None
) -> Answers:
    """Return the answers to all questions, in SI.

    Parameters
    ----------
    ask : callable
        From a prompt to the line typed; raises EOFError at the end of the input.
    show : callable
        Shows a line, or the drawing.
    draw : callable, optional
        Given the answers so far after each; draws in letters through `show` where absent.

    Raises
    ------
    Stopped
        When the input ends.
    """
    answers: dict[str, float | str] = {}
    for question in questions():
        unit = str(answers.get("units", "m"))
        offered = shown(usual(question, answers), question, unit=unit)
        choices = f" ({' or '.join(question.choices)})" if question.choices else ""
        while True:
            try:
                typed = ask(f"{question.asks}{choices} [{offered}]: ")
            except EOFError as end:
                raise Stopped("new") from end
            try:
                answers[question.key] = answer_from(typed, question, answers)
                break
            except ValueError as refused:
                show(str(refused))
        if question.kind == "length":
            if draw is None:
                show(sketch(answers))
            else:
                draw(answers)
    return answers
