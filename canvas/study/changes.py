"""Say which inputs differ between two designs.

Computes: every key whose value differs, is new or is gone, named as complaints name it.
Units: values as the files write them.
Source: TOML 1.0 (tomllib).
Limits: elements of lists are matched by name, else by place; comments and order of keys do not count.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from canvas.design.reading import Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One input that differs; None where it does not stand in a design."""

    key: str
    first: str | None
    second: str | None


def changed_inputs(first: Source, second: Source) -> tuple[Change, ...]:
    """Return the inputs that differ, in the order of the second file, what is gone last."""
    a, b = _flat(tomllib.loads(first.text)), _flat(tomllib.loads(second.text))
    keys = [*b, *(key for key in a if key not in b)]
    return tuple(Change(key=key, first=a.get(key), second=b.get(key)) for key in keys if a.get(key) != b.get(key))


def _flat(part: Any, at: str = "") -> dict[str, str]:
    if isinstance(part, Mapping):
        found: dict[str, str] = {}
        for key, value in part.items():
            found.update(_flat(value, f"{at}.{key}" if at else str(key)))
        return found
    if isinstance(part, list) and any(isinstance(one, Mapping) for one in part):
        found = {}
        for place, one in enumerate(part):
            name = one.get("name") if isinstance(one, Mapping) else None
            found.update(_flat(one, f'{at} "{name}"' if name is not None else f"{at}[{place}]"))
        return found
    return {at: _said(part)}


def _said(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(_said(one) for one in value)
    return str(value)
