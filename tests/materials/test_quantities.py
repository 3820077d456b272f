"""Take-off and bill of parts small enough to add up by hand."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from canvas.cutting.part import FlatPart, PartEdge
from canvas.cutting.result import CutResult, SeamLength
from canvas.design.reading import parse_design
from canvas.design.schema.design import Design
from canvas.design.tables import cloths, fastenings
from canvas.geometry.tubes import tube_line
from canvas.materials.cost import ONLY_MATERIALS, bill, labour_table
from canvas.materials.order import order_csv
from canvas.materials.quantities import roll_lengths, take_off
from canvas.materials.takeoff import TakeOff

EXAMPLE = Path(__file__).parents[2] / "examples" / "marrowgrass.toml"
LONG, WIDE, ROUND = 2.0, 1.0, 0.05  # finished, and the allowance all round [m]


def design(text: str = "") -> Design:
    return parse_design(EXAMPLE.read_text(encoding="utf-8") + text, file="boat.toml", folder=EXAMPLE.parent).design


def rectangle(long: float, wide: float) -> np.ndarray:
    return np.array([[0, 0], [long, 0], [long, wide], [0, wide]], dtype=float)


def part(*, panel: str = "bridging piece", cloth: str = "awning cloth 200", finish: str = "webbing hem") -> FlatPart:
    corners = np.vstack([rectangle(LONG, WIDE), [[0, 0]]])
    edges = tuple(
        PartEdge(
            name=name, finish=finish if name != "forward" else "zip", points=corners[k : k + 2],
            length=float(np.linalg.norm(corners[k + 1] - corners[k])), seam=False, sd=0.0, fit="final", long_by=0.0,
            strain=0.0,
        )
        for k, name in enumerate(("starboard", "aft", "port", "forward"))
    )  # fmt: skip
    cut = rectangle(LONG + 2 * ROUND, WIDE + 2 * ROUND) - ROUND
    return FlatPart(
        name=panel, panel=panel, set_name="shade", cloth=cloth, finished=corners[:-1], cut=cut, edges=edges, notches=(),
        items=(), area=LONG * WIDE, cut_area=(LONG + 2 * ROUND) * (WIDE + 2 * ROUND), strain_edge_max=0.0,
        strain_inside_max=0.0, strain_at=np.zeros(2),
    )  # fmt: skip


def result(*parts: FlatPart) -> CutResult:
    zipped = SeamLength(
        name="bridging piece to spray hood in shade, forward", kind="zip", panel_a="bridging piece",
        panel_b="spray hood in shade", length_a=WIDE, length_b=WIDE, ease=0.0,
    )  # fmt: skip
    return CutResult(
        parts=parts, seams=(zipped,), edges=(), divided=(), rolls=(), cautions=(), revision="A", trial=False
    )


def only(takes: tuple[TakeOff, ...]) -> TakeOff:
    assert len(takes) == 1
    return takes[0]


@pytest.mark.analytic
def test_one_rectangle_adds_up() -> None:
    take = only(take_off(result(part()), design()))
    cloth = take.cloth[0]
    assert cloth.area == pytest.approx(2.1 * 1.1)
    assert cloth.mass == pytest.approx(2.1 * 1.1 * 0.200)
    assert cloth.roll.width == 1.52
    assert cloth.roll.length == pytest.approx(2.1 + 0.01, abs=0.006)  # the part and half the spacing at both its ends
    webbing = next(goods for goods in take.goods if goods.name == "webbing 25")
    assert webbing.amount == pytest.approx(2 * LONG + WIDE)  # three hems; the fourth edge is zipped
    rows = 2 * (2 * LONG + 2 * WIDE)  # two rows on every edge; the other half is sewn on already
    assert take.sewing == pytest.approx(rows)
    assert take.thread == pytest.approx(2.5 * rows)
    assert take.mass == pytest.approx(cloth.mass + 0.030 * webbing.amount + 0.045 * WIDE + 0.0001 * take.thread)


@pytest.mark.analytic
def test_studs_stand_from_corner_to_corner() -> None:
    take = only(take_off(result(part(finish="press studs")), design()))
    studs = next(goods for goods in take.goods if goods.name == "press stud")
    spacing, start = 0.15, 0.03
    expected = sum(int(np.ceil((length - 2 * start) / spacing - 1e-9)) + 1 for length in (LONG, WIDE, LONG))
    assert studs.amount == expected
    assert studs.each == "piece"


@pytest.mark.behaviour
def test_zip_is_matched_to_the_half_aboard() -> None:
    zipped = only(take_off(result(part()), design())).zips[0]
    assert zipped.mates == "spray hood: aft"
    assert zipped.mates_existing
    assert (zipped.half, zipped.gauge, zipped.tooth) == ("right", 10, "moulded")
    assert zipped.length == pytest.approx(WIDE)


@pytest.mark.behaviour
def test_every_width_that_takes_the_part_is_offered() -> None:
    cloth = cloths()["acrylic 300"]
    assert [roll.width for roll in roll_lengths([part()], cloth, wanted=1.17)] == [1.17, 1.52]
    wide = replace(part(), cut=rectangle(1.0, 1.3))
    assert [roll.width for roll in roll_lengths([wide], cloth)] == [1.52]


@pytest.mark.analytic
def test_bill_is_amount_times_price() -> None:
    boat = design(
        '[prices.cloth]\n"awning cloth 200" = 10.0\n[prices.fastening]\nzip = 7.0\n"webbing 25" = 2.0\nthread = 0.1\n'
    )
    take = only(take_off(result(part()), boat))
    cost = bill(take, boat)
    roll = take.cloth[0].roll
    assert cost.materials == pytest.approx(10 * roll.width * roll.length + 7 * WIDE + 2 * 5.0 + 0.1 * take.thread)
    assert cost.total_low is None
    assert cost.says == ONLY_MATERIALS
    at_rate = bill(take, boat, rate=50.0)
    assert at_rate.total_low == pytest.approx(cost.materials + 50 * at_rate.hours_low)
    assert at_rate.total_high == pytest.approx(cost.materials + 50 * at_rate.hours_high)
    assert 0 < at_rate.hours_low < at_rate.hours_high


@pytest.mark.behaviour
def test_unknown_price_is_none_and_named() -> None:
    boat = design('[prices.cloth]\n"awning cloth 200" = 10.0\n')
    cost = bill(only(take_off(result(part()), boat)), boat, rate=50.0)
    assert cost.materials is None
    assert cost.total_high is None
    assert cost.unpriced == ("zip", "webbing 25", "thread")
    assert cost.materials_known > 0
    assert "no price for zip" in cost.says


@pytest.mark.behaviour
def test_wire_in_a_hem_is_weighed_by_its_length() -> None:
    text = EXAMPLE.read_text(encoding="utf-8").replace(
        '{ name = "starboard", finish = "webbing hem", hollow = "5 %" }',
        '{ name = "starboard", finish = "webbing hem", wire = true }',
    )
    boat = parse_design(text, file="boat.toml", folder=EXAMPLE.parent).design
    take = only(take_off(result(part()), boat))
    wire = next(goods for goods in take.goods if goods.name == "wire in hem")
    assert wire.amount == pytest.approx(LONG)
    assert wire.mass == pytest.approx(fastenings()["wire in hem"].mass * LONG)


@pytest.mark.behaviour
def test_csv_has_a_line_for_each_thing() -> None:
    take = only(take_off(result(part()), design()))
    text = order_csv([take])
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["kind"] for row in rows] == ["cloth", "zip", "goods", "thread"]
    assert float(rows[0]["amount"]) == pytest.approx(take.cloth[0].roll.length, abs=0.005)
    assert text == order_csv([take])


@pytest.mark.behaviour
def test_every_hour_of_labour_has_a_source() -> None:
    for hours in labour_table().values():
        assert 0 < hours.low < hours.high
        assert hours.source
    assert fastenings()["thread"].mass == pytest.approx(0.0001)


NEW_TUBES = """
[[tube]]
name = "ridge pole"
kind = "rail"
through = [["1.0 m", "-1.0 m", "1.9 m"], ["1.0 m", "1.0 m", "1.9 m"]]
diameter = "25 mm"
wall = "1.5 mm"
metal = "aluminium"
new = true
"""


@pytest.mark.analytic
def test_new_tube_is_bought_by_the_metre_and_weighed_by_its_section() -> None:
    text = EXAMPLE.read_text(encoding="utf-8").replace("[prices]\n", "[prices]\ntube_metre = 30\n") + NEW_TUBES
    boat = parse_design(text, file="boat.toml", folder=EXAMPLE.parent).design
    lines = {tube.name: tube_line(tube, at=np.array) for tube in boat.tube if tube.name == "ridge pole"}
    take = only(take_off(result(part()), boat, tubes=lines))
    (pole,) = take.tubes
    assert pole.amount == pytest.approx(2.0)
    assert pole.mass == pytest.approx(np.pi / 4 * (0.025**2 - 0.022**2) * 2.0 * 2700)
    line = next(line for line in bill(take, boat).lines if line.name == pole.name)
    assert line.cost == pytest.approx(60.0)
    row = next(row for row in csv.DictReader(io.StringIO(order_csv([take]))) if row["kind"] == "tube")
    assert row["name"] == 'rail "ridge pole", aluminium, 25 x 1.5 mm'


@pytest.mark.behaviour
def test_tubes_that_are_aboard_are_not_bought() -> None:
    boat = design()
    lines = {
        tube.name: tube_line(tube, at=np.array)
        for tube in boat.tube
        if tube.kind == "hoop" and not isinstance(tube.start, str)
    }
    assert only(take_off(result(part()), boat, tubes=lines)).tubes == ()
