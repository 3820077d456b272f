"""Start a design of one's own boat.

Computes: a commented design file from answers, or from an example, read back and built before it is written.
Units: as typed; the file declares its own.
Source: the layers below.
Limits: never writes over a file that is there.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path

from canvas.brief.answer import Answer
from canvas.design.guided.boat import design_text
from canvas.design.guided.examples import example_text
from canvas.design.guided.interview import interview
from canvas.design.problems import DesignError, Problem
from canvas.design.reading import parse_design
from canvas.jobs.files import write_whole
from canvas.verbs.boat import check


def new(
    file: Path,
    *,
    like: str | None = None,
    ask: Callable[[str], str],
    show: Callable[[str], None],
) -> Answer:
    """Start a design from some twenty answers, drawn in letters after each length, or from an example.

    Parameters
    ----------
    file : Path
        To be written; must not be there yet.
    like : str, optional
        Name of an example to start from instead.
    ask : callable
        From a prompt to the line typed; raises EOFError at the end of the input.
    show : callable
        Shows a line or a drawing.

    Returns
    -------
    Answer
        What `check` says of the new design.

    Raises
    ------
    DesignError
        When the file is there already, or there is no such example.
    CouldNot
        When it cannot be written.
    Stopped
        When the input ends.
    """
    if file.exists():
        raise DesignError(
            [
                Problem(
                    code="file-there",
                    file=str(file),
                    found="a folder of that name" if file.is_dir() else "a file of that name",
                    wanted="Choose another name; nothing is written over.",
                )
            ]
        )
    text = design_text(interview(ask, show)) if like is None else example_text(like, name=file.stem)
    answer = check(parse_design(text, file=str(file), folder=file.parent))
    write_whole(file, text)
    show(f"wrote {file}; for all answers on one page: canvas report {shlex.quote(str(file))} -o out")
    return answer
