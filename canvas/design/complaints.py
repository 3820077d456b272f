"""Turn what pydantic says about a design into problems in the words of the design file.

Computes: for each error its key, line, what was found and what would do.
Units: none.
Source: error types of pydantic 2.
Limits: one problem for each wrong value, and one for a key that is missing because it is misspelt; names are checked
    elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from canvas.design.positions import Path, nearest_line, path_text
from canvas.design.problems import Problem, closest, nearest
from canvas.design.schema.keys import heading, keys_at

WANTED: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "bool_type": lambda _: "Write true or false, without quotes.",
    "bool_parsing": lambda _: "Write true or false, without quotes.",
    "dict_type": lambda _: "Write a table here: keys and values.",
    "finite_number": lambda _: "Write a finite number.",
    "float_parsing": lambda _: "Write a number, without quotes.",
    "float_type": lambda _: "Write a number, without quotes.",
    "greater_than": lambda said: f"Write a number above {said['gt']:g}.",
    "greater_than_equal": lambda said: f"Write a number of {said['ge']:g} or more.",
    "int_from_float": lambda _: "Write a whole number.",
    "int_parsing": lambda _: "Write a whole number, without quotes.",
    "int_parsing_size": lambda _: "Write a smaller whole number.",
    "int_type": lambda _: "Write a whole number, without quotes.",
    "less_than_equal": lambda said: f"Write a number of {said['le']:g} or less.",
    "list_type": lambda _: "Write a list: values between [ and ], or tables under [[ ]].",
    "model_attributes_type": lambda _: "Write a table here: keys and values.",
    "model_type": lambda _: "Write a table here: keys and values.",
    "string_pattern_mismatch": lambda _: "Write one line of text, not empty.",
    "string_too_long": lambda said: f"Write at most {said['max_length']} letters.",
    "string_type": lambda _: "Write text in quotes.",
    "too_long": lambda said: f"Write at most {said['max_length']}.",
    "too_short": lambda said: f"Write at least {said['min_length']}.",
    "union_tag_not_found": lambda _: 'Add "kind" here.',
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Where:
    """What tells where in a file an error stands: its data, the lines of its keys, the names of its elements."""

    file: str
    data: Mapping[str, Any]
    lines: Mapping[Path, int]
    names: Mapping[Path, str]


def record_problems(error: ValidationError, *, where: Where) -> list[Problem]:
    """Return every problem of a design that does not fit its records, in the order of lines."""
    details = error.errors(include_url=False)
    misspelt = {
        (loc[:-1], closest(str(loc[-1]), keys_at(loc[:-1])))
        for loc in (detail["loc"] for detail in details if detail["type"] == "extra_forbidden")
    }
    problems = {
        _problem(detail, where)
        for detail in details
        if detail["type"] != "missing" or (detail["loc"][:-1], detail["loc"][-1]) not in misspelt
    }
    return sorted(problems, key=lambda problem: (problem.line or 0, problem.key, problem.wanted))


def shown(value: Any) -> str:
    """Return a value of the file as it is shown in a message."""
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 60 else f'"{value[:57]}..."'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a number of more than twenty digits"
    return str(value)


def _problem(detail: ErrorDetails, where: Where) -> Problem:
    loc, kind, context = detail["loc"], detail["type"], detail.get("ctx", {})
    path = _path_in(where.data, loc)
    found = shown(detail.get("input"))
    code = "wrong-value"
    if kind == "extra_forbidden":
        path = path if path and path[-1] == loc[-1] else (*path, loc[-1])
        code, found, wanted = "unknown-key", f'unknown key "{loc[-1]}"', nearest(str(loc[-1]), keys_at(loc[:-1]))
    elif kind in ("missing", "union_tag_not_found"):
        key = loc[-1] if kind == "missing" else "kind"
        code, found, wanted = "missing-key", f'no key "{key}"', f'Add "{key}" here.'
        if not path:
            part = heading(str(key))
            wanted = f"Add a part {part}." if part else f'Add "{key}" at the top of the file.'
    elif kind in ("literal_error", "union_tag_invalid"):
        expected = str(context.get("expected", context.get("expected_tags", "")))
        choices = [word.strip().strip("'") for word in expected.replace(" or ", ",").split(",")]
        if kind == "union_tag_invalid":
            path, found = (*path, "kind"), shown(context.get("tag"))
        word = detail["input"] if kind == "literal_error" else context.get("tag")
        code, wanted = "unknown-choice", nearest(str(word), choices)
    elif kind == "value_error":
        wanted = str(context["error"])
    else:
        wanted = WANTED[kind](context) if kind in WANTED else f"{detail['msg']}."
    return Problem(
        code=code, file=where.file, line=nearest_line(where.lines, path), key=path_text(path, where.names), found=found,
        wanted=wanted,
    )  # fmt: skip


def _path_in(data: Any, loc: tuple[str | int, ...]) -> Path:
    """Return the part of pydantic's location that stands in the file; tags of unions and marks of keys do not."""
    path: Path = ()
    here = data
    for part in loc:
        if _holds(here, part):
            here = here[part]
            path += (part,)
    return path


def _holds(here: Any, part: str | int) -> bool:
    if isinstance(here, dict):
        return part in here
    return isinstance(here, list) and isinstance(part, int) and part < len(here)
