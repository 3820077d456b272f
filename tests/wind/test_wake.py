"""The wake sum: momentum kept, drag of screens as published, words, and the label it always carries."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.wind import wake as wakes
from tests.wind.flow_cases import small_scene


@pytest.mark.published
def test_drag_of_a_screen_by_its_loss(published):
    table = published("flow/porous_plate_by_loss")
    for row in table.rows:
        if row["k_face"] < 40.0:
            assert wakes.drag_of_loss(row["k_face"]) == pytest.approx(row["SH_c_D"], rel=1e-3)


@pytest.mark.analytic
def test_solid_sheets_have_the_handbook_drag():
    assert wakes.drag_of_loss(float("inf")) == 1.17


@pytest.mark.behaviour
def test_blade_behind_the_cabin_is_in_its_wake_and_not_with_the_wind_astern():
    got = wakes.wake(small_scene(), awa=[0.0, np.pi])
    assert got.speed_ratio_free[0] < got.speed_ratio_free[1]
    assert got.words[1] == "clear"
    assert (got.speed_ratio_free <= 1.0).all()


@pytest.mark.property
def test_more_canvas_never_leaves_more_wind():
    angles = np.radians(np.arange(-170, 181, 25))
    bare, canvas = (wakes.wake(small_scene(screen=s), awa=angles).speed_ratio_free for s in (False, True))
    assert (canvas <= bare + 1e-12).all()


@pytest.mark.property
def test_mirrored_boat_at_the_mirrored_angle():
    port, starboard = (
        wakes.wake(small_scene(screen=True, mirrored=m), awa=[a]).speed_ratio_free[0]
        for m, a in ((False, 0.6), (True, -0.6))
    )
    assert port == pytest.approx(starboard, rel=1e-9)


@pytest.mark.behaviour
@pytest.mark.parametrize(("left", "word"), [(0.95, "clear"), (0.8, "edge of wake"), (0.5, "in wake")])
def test_words(left, word):
    assert wakes.word(left) == word


@pytest.mark.behaviour
def test_label_says_what_it_is_worth():
    assert wakes.LABEL == "rough, cannot show gains"
