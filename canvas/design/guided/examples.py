"""Give the text of the example designs, to start one's own from.

Computes: an example's text with another boat's name.
Units: none.
Source: the files of `examples/`; a wheel carries them beside this module.
Limits: in a checkout they are read from the project's own folder.
"""

from __future__ import annotations

from pathlib import Path

import tomlkit

from canvas.design.problems import DesignError, Problem, nearest

PACKED = Path(__file__).parent / "packed_examples"
CHECKOUT = Path(__file__).parents[3] / "examples"


def example_names() -> tuple[str, ...]:
    """Return the names of the examples, sorted."""
    return tuple(sorted(path.stem for path in _folder().glob("*.toml")))


def example_text(example: str, *, name: str) -> str:
    """Return an example's text with the boat called `name`.

    Raises
    ------
    DesignError
        When there is no such example.
    """
    if example not in example_names():
        wanted = nearest(example, example_names())
        raise DesignError([Problem(code="unknown-example", key="--like", found=f'"{example}"', wanted=wanted)])
    document = tomlkit.parse((_folder() / f"{example}.toml").read_text(encoding="utf-8"))
    document["name"] = name
    return f"# Begun from the example {example}: replace its numbers by your own.\n#\n{tomlkit.dumps(document)}"


def _folder() -> Path:
    return PACKED if PACKED.is_dir() else CHECKOUT
