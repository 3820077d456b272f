"""Check a passage's sums against arithmetic and pvlib, and what is said of legs that cannot be sailed."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pvlib
import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.air.wind import KNOT
from canvas.cli import app
from canvas.design.problems import DesignError
from canvas.geometry.scene import Blade
from canvas.sky.dome import dome_map
from canvas.study.legs import plan_legs
from canvas.study.passage import leg_hours, summed
from canvas.study.routes import EARTH_RADIUS
from tests.design.design_texts import changed, example, read
from tests.hand_built import scene, sheet, spread

LEG = """[[passage.legs]]
name = "up the meridian"
start_latitude = "10 N"
start_longitude = "30 W"
end_latitude = "20 N"
end_longitude = "30 W"
month = 6
wind = [
  { speed = "12 kn", angle = "90 deg", share = "75 %" },
  { speed = "6 kn", angle = "180 deg", share = "25 %" },
]
set = "blow coming"
"""


def with_leg(leg=LEG):
    """Return the first example with its passage replaced by one leg."""
    text = example()
    start, end = text.index("[[passage.legs]]"), text.index("[prices]")
    return text[:start] + leg + "\n" + text[end:]


def problems(leg):
    with pytest.raises(DesignError) as refused:
        plan_legs(read(with_leg(leg)))
    return " ".join(str(one) for one in refused.value.problems)


@pytest.mark.analytic
def test_progress_is_distance_over_the_mean_speed_made_good():
    (plan,) = plan_legs(read(with_leg()))
    distance = EARTH_RADIUS * np.radians(10)
    speed = (0.75 * 6.2 + 0.25 * 2.6) * KNOT  # the example's own reach at 12 kn and run at 6 kn
    assert plan.route.distance == pytest.approx(distance)
    assert plan.speed == pytest.approx(speed)
    assert plan.duration == pytest.approx(distance / speed)
    assert len(plan.days) == round(distance / speed / 86400)
    assert plan.weight * len(plan.sun.up) == pytest.approx(distance / speed / 3600)
    assert np.degrees(plan.route.latitude[[0, -1]]) == pytest.approx([11, 19], abs=0.1)


@pytest.mark.published
def test_suns_of_a_leg_are_pvlibs_hour_by_hour():
    (plan,) = plan_legs(
        read(with_leg(LEG.replace('"30 W"', '"150 W"').replace('end_longitude = "150 W"', 'end_longitude = "140 W"')))
    )
    sun, per_day = plan.sun, len(plan.sun.up) // len(plan.days)
    for day in range(len(plan.days)):
        rows = slice(day * per_day, (day + 1) * per_day, 3)
        times = pd.DatetimeIndex([datetime.fromtimestamp(float(one), UTC) for one in sun.unix_s[rows]])
        known = pvlib.solarposition.get_solarposition(
            times,
            float(np.degrees(plan.route.latitude[day])),
            float(np.degrees(plan.route.longitude[day])),
            altitude=0,
            temperature=20,
            pressure=101325,
        )
        up = known["apparent_elevation"].to_numpy() > 1.0
        high = np.degrees(sun.apparent_altitude[rows])
        bearing = (np.degrees(sun.azimuth[rows] + plan.route.course[day])) % 360
        assert high[up] == pytest.approx(known["apparent_elevation"].to_numpy()[up], abs=0.002)
        apart = (bearing - known["azimuth"].to_numpy() + 180) % 360 - 180
        # near the zenith an azimuth turns fast: compare the arc, not the angle
        assert np.abs(apart * np.cos(np.radians(high)))[up].max() < 0.002


def made_up(plan):
    """Return a boat of one roof and three places, and its map: under the roof, half under it, in the open."""
    roof = sheet("roof", [[-20, -20, 2], [20, -20, 2], [20, 0, 2], [-20, 0, 2]])
    places = [
        spread("under", [0, -6, 0], [1, 0, 0], [0, 1, 0]),
        spread("half under", [0, -0.5, 0], [1, 0, 0], [0, 1, 0]),
        spread("open", [0, 5, 0], [1, 0, 0], [0, 1, 0]),
    ]
    blade = Blade(points=np.array([[5.0, 0.0, 5.0]]), foot=np.array([5.0, 0.0, 4.6]), height=0.8, width=0.2)
    built = scene(roof, places=places, blade=blade)
    design = SimpleNamespace(
        vane=SimpleNamespace(steers_from=6.0 * KNOT, steers_from_with="bare"), sailing=SimpleNamespace(roll=0.0)
    )
    model = SimpleNamespace(instrument_height=15.0, design=design)
    return SimpleNamespace(rig=lambda _: SimpleNamespace(scene=built), model=model), built


@pytest.mark.analytic
def test_constant_sun_and_wind_give_arithmetic():
    (plan,) = plan_legs(read(with_leg()))
    overhead = np.full_like(plan.sun.altitude, np.pi / 2)
    plan = replace(plan, sun=replace(plan.sun, altitude=overhead, apparent_altitude=overhead))
    rigging, built = made_up(plan)
    found = leg_hours(rigging, plan, set_name="roof", known=dome_map(built), rate=10.0, rain_height=2.0)
    hours = plan.duration / 3600
    assert found.places.hours == pytest.approx(hours)
    assert found.places.sun_up == pytest.approx(hours)
    # reaching, 3 hours of 4, she heels 15 deg to port: the edge's shadow moves 2 m x tan(15 deg) off the second place
    assert found.places.shade / hours == pytest.approx([1, 0.25 * 0.5, 0], abs=0.015)
    assert found.places.by_tenth[0] == pytest.approx([0] * 9 + [hours])
    assert found.places.by_tenth[2] == pytest.approx([hours] + [0] * 9)
    assert found.places.by_tenth.sum(axis=1) == pytest.approx([hours] * 3)
    assert found.places.low_sun_minutes == pytest.approx([0, 0, 0])
    assert found.places.rain_reaches[[0, 2]] == pytest.approx([0, hours])
    assert found.places.wetted[2] == pytest.approx(hours)
    # 12 kn on the beam at 6.2 kn is felt as 13.5 kn, 6 kn from astern at 2.6 kn as 3.4 kn: she steers in the first
    assert [row.steers for row in found.vane] == [True, False]
    assert sum(row.hours for row in found.vane if row.steers) == pytest.approx(0.75 * hours)
    assert all(row.sees for row in found.vane)
    assert found.strike(10 * KNOT) == pytest.approx(0.75 * hours)
    assert found.strike(20 * KNOT) == 0


@pytest.mark.property
def test_legs_add_up():
    (plan,) = plan_legs(read(with_leg()))
    rigging, built = made_up(plan)
    one = leg_hours(rigging, plan, set_name="roof", known=dome_map(built), rate=10.0, rain_height=2.0)
    both = summed([one, one])
    for key in ("shade", "by_tenth", "rain_reaches", "uv", "uv_open", "low_sun_minutes"):
        assert getattr(both, key) == pytest.approx(2 * getattr(one.places, key))
    assert both.hours == pytest.approx(2 * one.places.hours)
    assert (both.uv <= both.uv_open * 1.15).all()


@pytest.mark.behaviour
def test_a_leg_without_wind_has_shares_but_no_hours():
    leg = LEG[: LEG.index("wind = [")] + 'set = "blow coming"\n'
    (plan,) = plan_legs(read(with_leg(leg)))
    assert plan.windless
    assert plan.duration is None
    rigging, built = made_up(plan)
    found = leg_hours(rigging, plan, set_name="roof", known=dome_map(built), rate=10.0, rain_height=2.0)
    assert found.places.hours == pytest.approx(1)
    assert 0 < found.places.sun_up < 1
    assert np.isnan(found.places.rain_reaches).all()
    assert found.vane == ()


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('end_latitude = "20 N"', 'end_latitude = "90 N"', "never reaches a pole"),
        ('end_latitude = "20 N"', 'end_latitude = "10 N"', "goes nowhere"),
        ('share = "25 %"', 'share = "35 %"', "add up to 110 %"),
        ('end_latitude = "20 N"', 'end_latitude = "95 N"', "at most 90 degrees"),
        ("month = 6", "month = 13", "month"),
    ],
)
def test_legs_that_cannot_be_sailed_are_said_so(old, new, said):
    with pytest.raises(DesignError, match=said):
        plan_legs(read(with_leg(LEG.replace(old, new))))


@pytest.mark.behaviour
def test_over_the_pole_along_a_great_circle():
    leg = (
        LEG.replace('"10 N"', '"80 N"')
        .replace('"20 N"', '"80 N"')
        .replace('end_longitude = "30 W"', 'end_longitude = "150 E"')
    )
    (plan,) = plan_legs(read(with_leg(leg.replace("month = 6", 'month = 6\nalong = "great circle"'))))
    assert np.isfinite(plan.sun.azimuth).all()
    assert np.degrees(plan.route.latitude).max() > 87
    assert plan.sun.up.all()  # June


@pytest.mark.behaviour
def test_missing_boat_speeds_and_passage():
    text = changed(r"boat_speed = \[[^]]*\]\n", "")
    with pytest.raises(DesignError, match="boat_speed") as refused:
        plan_legs(read(text))
    said = re.search(r"Under \[sailing\] write (boat_speed = .*?\}\]), ", str(refused.value))
    assert plan_legs(read(text.replace("[sailing]\n", f"[sailing]\n{said[1]}\n")))  # what would do does
    text = example()
    start, end = text.index("[passage]"), text.index("[prices]")
    with pytest.raises(DesignError, match="passage.legs"):
        plan_legs(read(text[:start] + text[end:]))


@pytest.mark.behaviour
def test_days_run_on_from_the_day_of_leaving():
    source = read(example())
    first, second = plan_legs(source, leave=datetime(2027, 1, 30, tzinfo=UTC).date())
    assert first.days[0].isoformat() == "2027-01-30"
    assert first.days[-1] < second.days[0] <= second.days[-1]
    assert second.days[0].month == 2


@pytest.mark.behaviour
def test_the_thirty_first_of_february_is_refused():
    done = CliRunner().invoke(app, ["passage", "examples/marrowgrass.toml", "--leave", "2027-02-31"])
    assert done.exit_code == 2
    assert "a day that exists" in done.output


@pytest.fixture(scope="module")
def short():
    return verbs.passage(read(with_leg()), sets=["blow coming"], strike=25 * KNOT)


@pytest.mark.behaviour
def test_the_record_says_hours_that_agree_with_one_another(short):
    record = json.loads(json.dumps(short.record(), allow_nan=False))
    (leg,), (one,) = record["legs"], record["sets"]
    assert one["hours_h"] == pytest.approx(leg["hours_h"], rel=1e-3)
    assert sum(row["hours_h"] for row in one["winds"]) == pytest.approx(leg["hours_h"], rel=1e-3)
    for place, tenths in zip(one["places"], one["shade_hours_by_tenth"], strict=True):
        assert place["shade_h"] == pytest.approx(place["shade_share"] * one["sun_up_h"], rel=1e-3)
        assert sum(value for key, value in tenths.items() if key != "name") == pytest.approx(one["sun_up_h"], rel=1e-3)
    assert one["strike_at_aws_kn"] == pytest.approx(25)
    assert one["strike_h"] == 0
    assert record["planned"]["vane_sees_by"].startswith("line of sight")
    assert {row["place"] for row in record["planned_low_sun"]} == {"helm, heads"}
