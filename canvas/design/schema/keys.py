"""Say which keys the design file knows, where, and which of them only describe.

Computes: the keys of the record at a place, and every key of the file with what it is worth.
Units: none.
Source: the records themselves.
Limits: keys that the user makes up (names of marks, of cloths in a price list) stand for themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from canvas.design.schema.design import Design


def keys_at(loc: Sequence[str | int]) -> list[str]:
    """Return the keys that the record at a location knows, sorted.

    Parameters
    ----------
    loc : sequence of str or int
        As pydantic gives it: keys, indexes, and the tags of the kinds it tried.
    """
    return sorted({_key(name, field) for model in _models_at(loc) for name, field in model.model_fields.items()})


def heading(key: str) -> str | None:
    """Return how a part of the file is headed, such as ``[hull]`` or ``[[crew]]``; None for a plain value."""
    field = next((field for name, field in Design.model_fields.items() if key == _key(name, field)), None)
    if field is None or not _models_in(field.annotation):
        return None
    return f"[[{key}]]" if get_origin(field.annotation) is list else f"[{key}]"


def stands_in_schema(keys: Sequence[str]) -> bool:
    """Whether the keys, without indexes, lead to a record or value that the design file can hold."""
    models: list[type[BaseModel]] = [Design]
    for place, key in enumerate(keys):
        fields = [field for model in models for name, field in model.model_fields.items() if key == _key(name, field)]
        if not fields:
            return False
        models = [model for field in fields for model in _models_in(field.annotation)]
        if not models:
            return place >= len(keys) - 2  # beyond a plain value only the user's own key, as in marks.NAME
    return True


def is_descriptive(path: Sequence[str | int]) -> bool:
    """Whether the key at a path of a design file only describes and moves no number.

    Parameters
    ----------
    path : sequence of str or int
        As in `canvas.design.positions.key_lines`, such as ``("crew", 0, "name")``.
    """
    keys = [part for part in path if isinstance(part, str)]
    models: list[type[BaseModel]] = [Design]
    for key in keys:
        fields = [field for model in models for name, field in model.model_fields.items() if key == _key(name, field)]
        if fields and all(_describes(field) for field in fields):
            return True
        models = [model for field in fields for model in _models_in(field.annotation)]
    return False


def _describes(field: FieldInfo) -> bool:
    extra = field.json_schema_extra
    return isinstance(extra, dict) and bool(extra.get("descriptive"))


def _key(name: str, field: FieldInfo) -> str:
    return field.alias or name


def _models_at(loc: Sequence[str | int]) -> list[type[BaseModel]]:
    models: list[type[BaseModel]] = [Design]
    for part in loc:
        known = [item for model in models for item in model.model_fields.items()]
        fields = [field for name, field in known if part in (name, field.alias)]
        if fields:
            models = [model for field in fields for model in _models_in(field.annotation)]
        elif isinstance(part, str):
            models = _tagged(models, part) or [model for model in models if model.__name__ == part] or models
    return models


def _tagged(models: list[type[BaseModel]], tag: str) -> list[type[BaseModel]]:
    return [
        model
        for model in models
        if "kind" in model.model_fields and tag in get_args(model.model_fields["kind"].annotation)
    ]


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for argument in get_args(annotation) for model in _models_in(argument)]
