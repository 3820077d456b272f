"""Hold where people are to arithmetic: behind two wheels without a seat, and on a seat that a scan has elsewhere."""

import re

import numpy as np
import pytest

from canvas.geometry.model import build_model
from canvas.geometry.places import ON_TOP, SETTLE, STANDING_HELM, settled_on
from tests.design.design_texts import example, read
from tests.hand_built import box, spread


@pytest.mark.analytic
def test_without_a_helm_seat_one_stands_behind_each_wheel():
    text = re.sub(r"(?m)^helm_seat.*\n", "", example())
    two = (f'{{ at = ["1.5 m", "{y} m", "0.9 m"], diameter = "0.6 m" }}' for y in (-0.45, 0.45))
    wheels = f"wheels = [{', '.join(two)}]"
    text, count = re.subn(r"(?m)^wheels = .*$", wheels, text)
    assert count == 1
    design = read(text).design
    (helm,) = (place for place in build_model(read(text)).places if place.name == "helm")
    half = min(STANDING_HELM, design.cockpit.sole_width) / 2
    assert helm.area == pytest.approx(2 * STANDING_HELM * 2 * half)
    x, y, z = helm.points.T
    assert 1.6 <= x.min() < 1.62
    assert 1.58 + STANDING_HELM < x.max() <= 1.6 + STANDING_HELM
    assert np.abs(np.abs(y) - 0.45).max() <= half
    assert np.mean(y < 0) == pytest.approx(0.5)
    assert np.ptp(z + x * np.tan(design.cockpit.sole_slope or 0.0)) < 1e-9  # on the sole, whatever way it falls


@pytest.mark.analytic
def test_points_settle_on_a_scanned_seat_near_them_and_stay_where_there_is_none():
    seat = spread("seat", [0.0, -0.2, 0.4], [1.0, 0.0, 0.0], [0.0, 0.4, 0.0], points=200)
    tops = {(-0.1, 0.2): 0.4 + SETTLE - 0.01, (0.2, 0.4): 0.4 - SETTLE + 0.01, (0.4, 0.6): 0.4 - SETTLE - 0.01}
    mesh = [box(f"from {low}", [low, -1.0, -1.0], [high, 1.0, top], kind="boat") for (low, high), top in tops.items()]
    found = seat
    for hull in mesh:
        (found,) = settled_on((found,), hull)
    assert np.array_equal(found.points[:, :2], seat.points[:, :2])
    x, z = found.points[:, 0], found.points[:, 2]
    for (low, high), top in tops.items():
        here = (x > low) & (x < high)
        assert here.any()
        near = abs(top - 0.4) < SETTLE
        assert z[here] == pytest.approx(top + ON_TOP if near else 0.4, abs=1e-6)
    assert np.array_equal(z[x > 0.6], seat.points[x > 0.6, 2])
