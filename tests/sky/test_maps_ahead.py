"""Maps traced beside other work are those traced one after another, and give way as the work they are traced for."""

from threading import get_ident

import numpy as np
import pytest

from canvas import verbs
from canvas.jobs.failure import Stopped
from canvas.jobs.turns import standing_aside
from canvas.sky.dome import undivided
from canvas.verbs.maps import MapsAhead, known_map, rain_map

EXAMPLE = "examples/oddfellow.toml"
SETS = ("bare", "spray hood", "wet watch")


@pytest.fixture(autouse=True)
def _nothing_kept(monkeypatch, tmp_path):
    monkeypatch.setenv("CANVAS_CACHE", str(tmp_path))


@pytest.mark.property
@pytest.mark.parametrize("asked", [SETS, SETS[::2]])
def test_a_map_made_ahead_is_that_made_when_asked_for(tmp_path, monkeypatch, asked):
    with MapsAhead(rain_map, verbs.rigging_of(EXAMPLE), SETS) as ahead:
        found = [ahead.of(name) for name in asked]
    monkeypatch.setenv("CANVAS_CACHE", str(tmp_path / "other"))
    alone = verbs.rigging_of(EXAMPLE)
    for name, one in zip(asked, found, strict=True):
        other = rain_map(alone, name)
        assert [caster.name for caster in one.casters] == [caster.name for caster in other.casters]
        assert all(np.array_equal(a, b) for a, b in zip(one.bits, other.bits, strict=True))


@pytest.mark.behaviour
def test_a_map_made_ahead_ends_with_the_work_it_is_made_for():
    here = get_ident()

    def nobody_waits():
        if get_ident() != here:
            raise Stopped

    boat = verbs.rigging_of(EXAMPLE)
    with standing_aside(nobody_waits), MapsAhead(rain_map, boat, SETS) as ahead, pytest.raises(Stopped):
        ahead.of("bare")


@pytest.mark.behaviour
def test_rain_falls_alike_whether_or_not_the_light_was_mapped_before():
    lit, unlit = verbs.rigging_of(EXAMPLE), verbs.rigging_of(EXAMPLE)
    known_map(lit, "spray hood")
    one, other = (undivided(rain_map(boat, "spray hood")) for boat in (lit, unlit))
    assert [place.name for place in one.places] == [place.name for place in other.places]
    assert np.array_equal(one.group, other.group)
    assert all(np.array_equal(one.met(k), other.met(k)) for k in range(len(other.casters)))
