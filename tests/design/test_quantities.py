"""Hold the reading of quantities to what people write, exactly, and to refusing the rest."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.design import units

LENGTHS = [
    ("2.35 m", 2.35),
    ("1850 mm", 1.85),
    ("12cm", 0.12),
    ("6 ft 2 1/2 in", 74.5 * 0.0254),
    ("6ft 2in", 74 * 0.0254),
    ("6' 2 1/2\"", 74.5 * 0.0254),
    ("6′ 2″", 74 * 0.0254),
    ("6 ft 3", 75 * 0.0254),
    ("6ft3", 75 * 0.0254),
    ("6' 2 1/2", 74.5 * 0.0254),
    ("-1 ft 11.5", -23.5 * 0.0254),
    ("0 ft 0", 0.0),
    ("1/2 in", 0.0127),
    ("2 1/4 in", 2.25 * 0.0254),
    ("3 ft", 0.9144),
    ("-0.92 m", -0.92),
    ("−0.92 m", -0.92),
    ("+4 in", 0.1016),
    ("-1 ft 8 in", -20 * 0.0254),
    ("1 m 20 cm", 1.2),
    ("1e-3 m", 0.001),
    (".5 m", 0.5),
    ("5. m", 5.0),
    ("0 in", 0.0),
    ("  2.35   m  ", 2.35),
]

BAD_LENGTHS = [
    "", " ", "m", "2,35 m", "2.35 metres", "2.35 kg", "2 in 6 ft", "6 ft 7 ft", "2.35 m m", "two m", "1/0 in",
    "6 ft 12", "6 ft 1850", "6.5 ft 3", "1/2 ft 3", "6 ft 2 3 in", "6 ft -3", "6 ft 3 4", "1 m 20", "6 in 3",
    "--2 m", "2 - 3 m", "1e400 m", "nan m", "inf m", "2.3.5 m", "1 1 m", "3 / 4 in", True, False, None, [2.0], {"m": 2},
    math.nan, math.inf, 10**400, "9" * 5000 + "/3 in",
]  # fmt: skip

OTHERS = [
    (units.speed, "12 kn", 12 * 1852 / 3600),
    (units.speed, 12, 12 * 1852 / 3600),
    (units.speed, "10 m/s", 10.0),
    (units.speed, "36 km/h", 10.0),
    (units.angle, "180 deg", math.pi),
    (units.angle, "-90°", -math.pi / 2),
    (units.angle, 45, math.pi / 4),
    (units.angle, "1 rad", 1.0),
    (units.mass, "143 lb", 143 * 0.45359237),
    (units.mass, "85 g", 0.085),
    (units.force, "250 lbf", 250 * 0.45359237 * 9.80665),
    (units.force, "6 kN", 6000.0),
    (units.line_force, "1200 N/50 mm", 24000.0),
    (units.line_force, "60 N/m", 60.0),
    (units.area_mass, "300 g/m2", 0.3),
    (units.area_mass, "9.25 oz/yd2", 9.25 * 0.028349523125 / 0.83612736),
    (units.stress, "190 MPa", 190e6),
    (units.bending_stiffness, "12 N m2", 12.0),
    (units.duration, "2 min", 120.0),
    (units.area, "100 cm2", 0.01),
    (units.share, "4 %", 0.04),
    (units.share, 0.4, 0.4),
    (units.latitude, "17.5 S", math.radians(-17.5)),
    (units.latitude, "17° 30' S", math.radians(-17.5)),
    (units.latitude, "90 N", math.pi / 2),
    (units.longitude, "149 W", math.radians(-149)),
    (units.longitude, "149.25 e", math.radians(149.25)),
]

BAD_OTHERS = [
    (units.speed, "12 knots"), (units.speed, ""), (units.speed, "12 m"), (units.speed, math.nan),
    (units.angle, "12 %"), (units.mass, 75), (units.mass, "75"), (units.force, "600"), (units.share, "140 %"),
    (units.share, -0.1), (units.share, "4 pc"), (units.latitude, "91 N"), (units.latitude, "17.5 W"),
    (units.latitude, 17.5), (units.latitude, "17° 75' S"), (units.latitude, "-17.5 S"), (units.longitude, "181 E"),
    (units.longitude, "149"), (units.duration, 2), (units.line_force, "12 N"),
]  # fmt: skip


@pytest.mark.analytic
@pytest.mark.parametrize(("text", "metres"), LENGTHS)
def test_length_reads_exactly(text, metres):
    assert units.length(text) == pytest.approx(metres, rel=1e-15, abs=0)


@pytest.mark.behaviour
@pytest.mark.parametrize("found", BAD_LENGTHS, ids=lambda found: repr(found)[:20])
def test_length_refuses_what_it_cannot_read(found):
    with pytest.raises(ValueError, match=r"^Write "):
        units.length(found)


@pytest.mark.analytic
@pytest.mark.parametrize("bare", units.BARE_LENGTHS)
def test_inches_left_bare_after_feet_are_inches_whatever_the_file_declares(bare):
    assert units.length("6 ft 3", bare=bare) == units.length("6 ft 3 in")
    with pytest.raises(ValueError, match='^Write "in" after 14 if inches are meant'):
        units.length("6 ft 14", bare=bare)


@pytest.mark.analytic
@pytest.mark.parametrize(("reader", "found", "value"), OTHERS, ids=lambda part: getattr(part, "__name__", str(part)))
def test_other_quantities_read_exactly(reader, found, value):
    assert reader(found) == pytest.approx(value, rel=1e-14, abs=0)


@pytest.mark.behaviour
@pytest.mark.parametrize(("reader", "found"), BAD_OTHERS, ids=lambda part: getattr(part, "__name__", str(part)))
def test_other_quantities_refuse_what_they_cannot_read(reader, found):
    with pytest.raises(ValueError, match=r"^Write "):
        reader(found)


@pytest.mark.analytic
@pytest.mark.parametrize(("bare", "metres"), [("m", 2.0), ("mm", 0.002), ("ft", 0.6096), ("in", 0.0508)])
def test_bare_number_takes_the_declared_unit(bare, metres):
    assert units.length(2, bare=bare) == pytest.approx(metres, rel=1e-15)
    assert units.length("2", bare=bare) == pytest.approx(metres, rel=1e-15)
    assert units.length("2 m", bare=bare) == 2.0


@pytest.mark.property
@given(st.floats(-100, 100), st.sampled_from(["m", "mm", "ft", "in"]))
def test_length_text_reads_back(metres, unit):
    step = {"m": 0.0005, "mm": 0.0005, "ft": 0.0254 / 32, "in": 0.0254 / 32}[unit]
    text = units.length_text(metres, unit)
    assert abs(units.length(text) - metres) <= step * (1 + 1e-9)
    assert units.length_text(units.length(text), unit) == text


@pytest.mark.property
@given(st.integers(0, 200), st.integers(0, 11), st.integers(1, 15))
def test_feet_inches_and_sixteenths_add_up(feet, inches, sixteenths):
    whole = f"{feet} ft {inches} {sixteenths}/16 in"
    assert units.length(whole) == pytest.approx((feet * 12 + inches + sixteenths / 16) * 0.0254, rel=1e-14)


@pytest.mark.property
@given(st.text(max_size=30))
def test_any_text_reads_or_is_refused_with_advice(text):
    for reader in (units.length, units.speed, units.angle, units.share, units.latitude, units.force):
        try:
            value = reader(text)
        except ValueError as refused:
            assert str(refused).startswith("Write ")  # noqa: PT017 - either outcome is right, its form is what counts
        else:
            assert math.isfinite(value)
