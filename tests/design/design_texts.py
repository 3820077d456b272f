"""Give the tests the example designs as text, and ways to change one place of them."""

import re
from pathlib import Path

from canvas.design.problems import DesignError, Problem
from canvas.design.reading import Source, parse_design

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("marrowgrass", "oddfellow", "lantern-hill")


def example(name: str = "marrowgrass") -> str:
    """Return the text of an example."""
    return (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")


def read(text: str) -> Source:
    """Read a design from text."""
    return parse_design(text, file="boat.toml", folder=EXAMPLES)


def changed(old: str, new: str, *, of: str = "marrowgrass") -> str:
    """Return an example with the first place that matches `old`, a regular expression, replaced by `new`."""
    text, count = re.subn(old, lambda _: new, example(of), count=1, flags=re.MULTILINE)
    assert count == 1, f"{old} is not in {of}"
    return text


def problems_of(text: str) -> tuple[Problem, ...]:
    """Return the problems of a text, none where it reads."""
    try:
        read(text)
    except DesignError as error:
        return error.problems
    return ()
