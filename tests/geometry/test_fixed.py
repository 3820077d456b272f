"""Hold what is taken over of the boat after a change to what is made anew."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from canvas import verbs
from canvas.design.editing import Draft, open_draft
from canvas.design.guided.examples import example_names
from canvas.design.problems import DesignError
from canvas.geometry.fixed import fixed_of

pytestmark = pytest.mark.property
EXAMPLES = Path(__file__).parents[2] / "examples"


def raised(path: tuple) -> Callable[[Draft], None]:
    """Return what sets a length of a design 13 mm higher."""
    return lambda draft: draft.set_length(path, verbs.rigging_of(draft.source()).model.marks.at(path[1])[2] + 0.013)


@pytest.mark.parametrize("name", example_names())
def test_what_is_fixed_after_any_mark_has_moved_is_what_it_would_be_anew(name):
    draft = open_draft(EXAMPLES / f"{name}.toml")
    before = verbs.rigging_of(draft.source())
    sets = before.model.design.set_names()
    for one in sets:
        before.fixed(one)
    kept = 0
    for mark, place in before.model.design.marks.items():
        if isinstance(place, str):
            continue
        changed = Draft(draft.text, path=draft.path)
        try:
            raised(("marks", mark, 2))(changed)
            after = verbs.rigging_of(changed.source())
        except DesignError:
            continue
        after.take_over(before)
        for one in sets:
            anew = fixed_of(after.model, one).surfaces(after.model)
            taken = after.fixed(one).surfaces(after.model)
            kept += after.fixed(one) is before.fixed(one)
            assert [surface.name for surface in taken] == [surface.name for surface in anew]
            for old, new in zip(taken, anew, strict=True):
                assert np.array_equal(old.vertices, new.vertices)
                assert np.array_equal(old.faces, new.faces)
    assert kept > 0


@pytest.mark.parametrize("path", [("hull", "waterline"), ("cabin", "aft_height"), ("spars", "mast", "top")])
def test_another_boat_is_made_anew(path):
    draft = open_draft(EXAMPLES / "marrowgrass.toml")
    before = verbs.rigging_of(draft.source())
    before.fixed("bare")
    value = getattr(before.model.design, path[0])
    for part in path[1:]:
        value = getattr(value, part)
    draft.set_length(path, value + 0.02)
    after = verbs.rigging_of(draft.source())
    after.take_over(before)
    assert after.fixed("bare") is not before.fixed("bare")
