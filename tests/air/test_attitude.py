"""Check the turn from level axes to the heeled, trimmed boat."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.air.attitude import attitude, to_boat, up_in_boat

ANGLE = st.floats(-1.2, 1.2)


@pytest.mark.property
@given(heel=ANGLE, trim=ANGLE)
def test_the_turn_keeps_lengths_angles_and_handedness(heel, trim):
    turn = attitude(heel=heel, trim=trim)
    assert np.allclose(turn @ turn.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)
    assert np.allclose(up_in_boat(heel=heel, trim=trim), to_boat([0.0, 0.0, 1.0], heel=heel, trim=trim))


@pytest.mark.analytic
def test_heel_puts_the_starboard_side_down_and_trim_the_stern():
    # a level direction to starboard is seen above the boat's own level when that side is down
    assert np.allclose(to_boat([0.0, 1.0, 0.0], heel=0.3), [0, np.cos(0.3), np.sin(0.3)])
    assert np.allclose(to_boat([1.0, 0.0, 0.0], trim=0.1), [np.cos(0.1), 0, np.sin(0.1)])
    assert np.allclose(attitude(), np.eye(3))


@pytest.mark.analytic
def test_many_heels_at_once_equal_one_by_one():
    heels = np.array([-0.2, 0.0, 0.4])
    together = to_boat(np.array([0.3, -0.5, 0.8]), heel=heels, trim=0.1)
    apart = [to_boat([0.3, -0.5, 0.8], heel=one, trim=0.1) for one in heels]
    assert np.allclose(together, apart)
