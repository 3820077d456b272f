"""Hold the schema to saying of every key whether it only describes, and to knowing every key of the examples."""

import tomllib

import pytest
from pydantic import BaseModel

from canvas.design.positions import key_lines
from canvas.design.schema.design import Design
from canvas.design.schema.keys import _models_in, is_descriptive, keys_at, stands_in_schema
from canvas.design.tables import default_entry
from tests.design.design_texts import NAMES, example

DESCRIPTIVE = {
    "name", "words", "revision", "assumed", "wind_source", "currency", "date", "what", "why",
}  # fmt: skip


def records(model=Design, seen=None):
    """Yield every record of the schema once."""
    seen = set() if seen is None else seen
    if model in seen:
        return
    seen.add(model)
    yield model
    for field in model.model_fields.values():
        for part in _models_in(field.annotation):
            yield from records(part, seen)


@pytest.mark.behaviour
@pytest.mark.parametrize("record", list(records()), ids=lambda record: record.__name__)
def test_a_key_describes_or_counts_and_a_default_has_its_entry(record: type[BaseModel]):
    for name, field in record.model_fields.items():
        extra = field.json_schema_extra or {}
        assert set(extra) <= {"descriptive", "default_entry"}
        assert ("descriptive" in extra) == (name in DESCRIPTIVE), name
        if "default_entry" in extra:
            assert default_entry(extra["default_entry"]).source


@pytest.mark.behaviour
@pytest.mark.parametrize("name", NAMES)
def test_every_key_of_an_example_stands_in_the_schema(name):
    for path in key_lines(example(name)):
        assert stands_in_schema([part for part in path if isinstance(part, str)]), path


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("path", "describes"),
    [
        (("name",), True), (("assumed", 1), True), (("crew", 0, "name"), True), (("crew", 0, "stature"), False),
        (("panel", 2, "edges", 1, "hollow"), False), (("panel", 2, "edges", 1, "name"), True),
        (("passage", "legs", 0, "wind_source"), True), (("passage", "legs", 0, "wind", 0, "speed"), False),
        (("marks", "masthead"), False), (("decision", 0, "why"), True), (("reading", 4, "length"), False),
        (("prices", "cloth", "acrylic 300"), False), (("vane", "foot", 2), False),
    ],
)  # fmt: skip
def test_descriptive_keys_are_known_by_their_path(path, describes):
    assert is_descriptive(path) == describes


@pytest.mark.behaviour
def test_keys_of_a_place_are_those_of_its_record():
    assert keys_at(("spars", "mast", "boom"))[:3] == ["angle", "diameter", "end_height"]
    assert "from" in keys_at(("reading", 3, "tape"))
    assert "session" not in keys_at(("reading", 3, "tape"))
    assert "window" in keys_at(("set", 0, "up", 1))


@pytest.mark.behaviour
def test_the_examples_between_them_use_every_part_of_the_file():
    used = set()
    for name in NAMES:
        used |= set(tomllib.loads(example(name)))
    assert set(Design.model_fields) - used == set()
