"""Plots: the same numbers give the same bytes, other numbers others, unknown is said."""

from __future__ import annotations

from itertools import combinations, pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from canvas.brief.figures import PHONE, picture
from canvas.brief.markup import sided
from canvas.brief.plots import ShadeLine, ShadeMap, bars, matrix, shade_days, shade_maps
from canvas.brief.roses import RoseLine, roses
from canvas.brief.slices import slices
from canvas.brief.studyplots import trade_off
from canvas.wind.flow.outcome import Slice
from tests.hand_built import box, scene

AWA = np.radians(np.arange(-175, 181, 5.0))


def rose(depth: float, name: str = "tent") -> RoseLine:
    return RoseLine(name=name, awa=AWA, value=1 - depth * np.exp(-((AWA / 0.4) ** 2)))


@pytest.mark.property
def test_same_numbers_same_bytes_other_numbers_other_bytes() -> None:
    one, again, other = (picture(roses([rose(d)], what="share")) for d in (0.5, 0.5, 0.6))
    assert one == again
    assert one != other
    assert b"<dc:date>" not in one
    png = [picture(roses([rose(0.5)], what="share"), "png") for _ in range(2)]
    assert png[0] == png[1]


@pytest.mark.behaviour
def test_every_set_has_its_name_in_the_rose() -> None:
    lines = [rose(0.1 * k, name) for k, name in enumerate(("hood", "shade", "wet watch", "tent"))]
    text = picture(roses(lines, bare=rose(0.05, "bare"), what="share", marks=[0.6], width=PHONE)).decode()
    for line in lines:
        assert f">{line.name}<" in text


@pytest.mark.behaviour
def test_shade_plots_leave_the_night_out() -> None:
    hour = np.arange(4.5, 20, 1.0)
    share = np.where(abs(hour - 12) < 6, 0.5, np.nan)
    day = shade_days([ShadeLine(set_name="hood", place="helm", hour=hour, share=share)])
    line = day.axes[0].lines[0]
    assert np.isnan(line.get_ydata()[0])
    assert line.get_ydata()[7] == pytest.approx(50)
    chart = ShadeMap(
        set_name="hood", place="helm", hour=hour, latitude_deg=np.array([-20.0, 0, 20]), share=np.tile(share, (3, 1))
    )
    mesh = shade_maps([chart]).axes[0].collections[0]
    assert int(mesh.get_array().mask.sum()) == 3 * int(np.isnan(share).sum())


@pytest.mark.behaviour
def test_unknown_is_said_not_drawn_as_zero() -> None:
    figure = bars(["zip", "tie"], [20.0, None], [30.0, None], what="kn")
    assert len(figure.axes[0].patches) == 1
    assert "unknown" in [text.get_text() for text in figure.axes[0].texts]
    open_ended = bars(["zip", "weft"], [20.0, 72.4], [30.0, None], what="kn").axes[0]
    assert [text.get_text().strip() for text in open_ended.texts] == ["72 or more"]
    assert open_ended.patches[1].get_x() + open_ended.patches[1].get_width() == pytest.approx(open_ended.get_xlim()[1])
    cells = matrix(["helm"], ["hood", "tent"], np.array([[0.25, np.nan]]), what="%")
    assert [text.get_text() for text in cells.axes[0].texts] == ["25", "?"]


@pytest.mark.behaviour
def test_table_of_shares_says_what_they_are_and_nothing_else_and_its_heads_stand_apart() -> None:
    names = ["hood and bimini", "shade", "wet watch", "closed tent", "blow coming"]
    share = np.array([[0.25, 1.0, 0.5, 0.0, 0.75]])
    figure = matrix(["blade in clear sight at the worst course"], names, share, what="reached by rain, % of hours")
    (axes,) = figure.axes
    assert (axes.get_xlabel(), figure.get_suptitle(), axes.get_title()) == ("reached by rain, % of hours", "", "")
    figure.draw_without_rendering()
    heads = [label.get_window_extent() for label in axes.get_xticklabels()]
    assert max(head.y1 for head in heads) <= figure.bbox.y1
    assert all(one.x1 < other.x0 for one, other in pairwise(heads))


@pytest.mark.behaviour
def test_white_in_a_picture_of_the_air_is_explained_where_there_is_any() -> None:
    y, z = np.meshgrid(np.linspace(-1, 1, 9), np.linspace(0, 2, 9))
    points, speed = np.stack([0 * y, y, z], axis=2), np.full(y.shape, 0.8)
    boat = scene(box("hull", [-1, -1, -1], [1, 1, 0.5], kind="boat"))
    told = {}
    for name, inside in (("whole", 0.8), ("holed", np.nan)):
        speed[3, 4] = inside
        part = Slice(points=points, speed=speed.copy())
        figure = slices(SimpleNamespace(along=part, across=part), boat)
        figure.draw_without_rendering()
        label = figure.axes[1].xaxis.label
        stands, paper = label.get_window_extent(), figure.bbox
        assert paper.x0 <= stands.x0 < stands.x1 <= paper.x1
        assert paper.y0 <= stands.y0
        told[name] = label.get_text()
    assert "white" not in told["whole"]
    assert "white: bodies, or not worked out" in told["holed"]


@pytest.mark.behaviour
def test_right_ahead_has_no_side() -> None:
    assert [sided(awa) for awa in (-32.4, -0.2, 0.0, 0.3, 150.0)] == ["-32", "0", "0", "0", "+150"]


@pytest.mark.behaviour
def test_names_of_a_crowded_front_cover_neither_one_another_nor_any_point() -> None:
    along = np.linspace(0, 1, 40) ** 2
    points = np.c_[1.5 + 0.2 * along, 69.8 + along + 0.05 * np.sin(40 * along)]
    points = np.vstack([points, points + np.array([0.004, -0.03]), np.full((1, 2), np.nan)])
    names = [f"{k:02d}" for k in range(1, 41)]
    figure = trade_off(points, front=range(40), names=names, axes_said=("cloth, m²", "shade, %"))
    figure.draw_without_rendering()
    (axes,) = figure.axes
    boxes = {one.get_text(): one.get_window_extent().padded(-0.5) for one in axes.texts}  # a hair of rounding [px]
    assert sorted(boxes) == names
    assert [(a, b) for a, b in combinations(boxes, 2) if boxes[a].overlaps(boxes[b])] == []
    dots = axes.transData.transform(points[:80])
    assert [name for name, box in boxes.items() if any(box.contains(*dot) for dot in dots)] == []
    assert all(axes.bbox.padded(1.0).fully_containsx(x) for box in boxes.values() for x in (box.x0, box.x1))
