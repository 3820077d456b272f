"""Write the records of `shade` and `rain`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: with the sun down a share is null over a span; see `canvas.brief.records`.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.records import Record, envelope
from canvas.brief.verdicts import SUN_DOWN, shaded

MOST_DRIPS = 8

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.geometry.surface import Floats
    from canvas.sky.dose import Doses
    from canvas.sky.low_sun import LowSun
    from canvas.sky.openings import Openings
    from canvas.sky.shade import ShadeAt, ShadeHours


def shade_record(answer: Answer) -> Record:
    """Return the record of `shade`: one time, or hours and days of a span."""
    asked = answer.top
    top: Record = {"heading": asked.headings.words}
    if not asked.days:
        top["sun"] = {
            "altitude_deg": float(np.degrees(asked.sun.altitude[0])),
            "apparent_altitude_deg": float(np.degrees(asked.sun.apparent_altitude[0])),
            "azimuth_deg": float(np.degrees(asked.sun.azimuth[0])),
        }
        down = top["sun"]["apparent_altitude_deg"] < 0  # all is out of the sun then
        sets = {name: _at_one_time(result) for name, result in answer.results.items()}
    else:
        down = False
        top["days"] = [day.isoformat() for day in asked.days]
        sets = {
            name: {
                "hours": _hours(result.hours, asked.sun),
                "days": _days(result.doses),
                "low_sun": _low(result.low),
            }
            for name, result in answer.results.items()
        }
    untold = {name: {"sentence": "", **keys} for name, keys in sets.items()}
    record = envelope("shade", answer.source, sets=untold, top=top, problems=answer.problems)
    for one in record["sets"]:  # told by the numbers that are printed
        one["sentence"] = SUN_DOWN if down else shaded(one)
    return record


def _places(names: tuple[str, ...], share: Floats, low: Floats, high: Floats) -> list[Record]:
    return [
        {"name": name, "shade_share": float(s), "shade_share_low": float(a), "shade_share_high": float(b)}
        for name, s, a, b in zip(names, share, low, high, strict=True)
    ]


def _at_one_time(result: ShadeAt) -> Record:
    return {
        "places": _places(result.names, result.share, result.low, result.high),
        "panels": [
            {
                "name": panel,
                "places": [
                    {"name": name, "keeps_off_share": float(alone), "only_it_share": float(only)}
                    for name, alone, only in zip(result.names, result.keeps_off[k], result.only_it[k], strict=True)
                ],
            }
            for k, panel in enumerate(result.panels)
        ],
    }


def _hours(hours: ShadeHours, sun: Any) -> list[Record]:
    return [
        {
            "at": datetime.fromtimestamp(float(seconds), UTC).isoformat(timespec="seconds"),
            "latitude_deg": float(np.degrees(latitude)),
            "places": _places(hours.names, hours.share[:, m], hours.low[:, m], hours.high[:, m]),
        }
        for m, (seconds, latitude, up) in enumerate(zip(sun.unix_s, sun.latitude, sun.up, strict=True))
        if up
    ]


def _days(sums: Doses) -> list[Record]:
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    return [
        {
            "day": (epoch + timedelta(days=int(day))).date().isoformat(),
            "latitude_deg": float(np.degrees(latitude)),
            "places": [
                {
                    "name": name,
                    "shade_share": float(sums.shade_share[k, p]),
                    "uv_kept_off_share": float(sums.uv_kept_off[k, p]),
                    "uv_kept_off_share_low": float(sums.uv_kept_off_low[k, p]),
                    "uv_kept_off_share_high": float(sums.uv_kept_off_high[k, p]),
                    "energy_kept_off_share": float(1 - sums.energy[k, p] / max(sums.energy_open[k, p], 1e-9)),
                }
                for p, name in enumerate(sums.names)
            ],
        }
        for k, (day, latitude) in enumerate(zip(sums.day, sums.latitude, strict=True))
    ]


def _low(low: LowSun) -> list[Record]:
    """Return by place the minutes of low sun a day, the side it comes in by, and what canvas not up would stop it."""
    rows = []
    for p, name in enumerate(low.names):
        share = low.openings.share[:, p]
        reached = bool(np.isfinite(share).any())
        side = int(np.nanargmax(share)) if reached else 0
        stops = low.stops[:, p] if len(low.tried) else np.zeros(0)
        best = int(np.nanargmax(stops)) if np.isfinite(stops).any() else None
        rows.append(
            {
                "name": name,
                "minutes_a_day": float(low.minutes[:, p].mean()),
                "minutes_a_day_most": float(low.minutes[:, p].max()),
                "comes_in": low.openings.sides[side] if reached else None,
                "comes_in_share": float(share[side]) if reached else None,
                "past": low.openings.past[side] if reached else None,
                "best_stop": None if best is None else low.tried[best],
                "best_stop_share": None if best is None else float(stops[best]),
            }
        )
    return rows


def rain_record(answer: Answer) -> Record:
    """Return the record of `rain`: the rose of wetted shares, where it comes in, where it drips."""
    asked = answer.top
    sets = {name: _rained(found, asked.aws) for name, found in answer.results.items()}
    return envelope("rain", answer.source, sets=sets, top={"rain_rate_mm_h": asked.rate}, problems=answer.problems)


def _rained(found: Any, winds: Floats) -> Record:
    people = _on_people(found, winds)
    worst = float(np.degrees(found.worst))
    share = found.openings.share
    sides = [
        {"side": side, "share": float(np.nanmean(share[k]))}
        for k, side in enumerate(found.openings.sides)
        if np.isfinite(share[k]).any()
    ]
    wet = max(sides, key=lambda row: row["share"], default=None)
    came = f", most of it from {wet['side']}" if wet else ""
    return {
        "sentence": f"Wettest with the wind at {worst:.0f} deg{came}.{_wettest(people)}",
        "worst_awa_deg": worst,
        "angles": _on_places(found, winds),
        "people": people,
        "openings": sides,
        "small_piece": _piece(found.openings),
        "catches": [
            {
                "filler": one.filler,
                "from": one.surface,
                "litres_h": one.litres,
                "hose_m": one.hose,
                "x_m": None if one.spot is None else float(one.spot[0]),
                "y_m": None if one.spot is None else float(one.spot[1]),
                "z_m": None if one.spot is None else float(one.spot[2]),
            }
            for one in found.catches
        ],
        "drips": [
            {
                "from": found.drips.spot_surface[k],
                "x_m": float(found.drips.spot[k, 0]),
                "y_m": float(found.drips.spot[k, 1]),
                "z_m": float(found.drips.spot[k, 2]),
                "litres_h": float(found.drips.litres[k]),
                "pools": bool(found.drips.pools[k]),
                "onto": found.drips.onto[k],
            }
            for k in range(min(len(found.drips.litres), MOST_DRIPS))
        ],
    }


def _on_places(found: Any, winds: Floats) -> list[Record]:
    """Return what falls on each place, by wind and its angle."""
    rows = [
        {
            "awa_deg": float(np.degrees(awa)),
            "aws_kn": float(wind / KNOT),
            "places": [
                {
                    "name": name,
                    "wetted_share": float(rose.wetted_share[s, m, p]),
                    "wetted_share_low": float(rose.low[s, m, p]),
                    "wetted_share_high": float(rose.high[s, m, p]),
                    "litres_h": float(rose.litres[s, m, p]),
                }
                for p, name in enumerate(rose.names)
            ],
        }
        for rose in found.roses
        for m, awa in enumerate(rose.awa)
        for s, wind in enumerate(winds)
    ]
    return sorted(rows, key=lambda row: (row["aws_kn"], row["awa_deg"]))


def _on_people(found: Any, winds: Floats) -> list[Record]:
    """Return what falls on everyone aboard, by wind and its angle."""
    rows = [
        {
            "name": name.removeprefix("crew "),
            "awa_deg": float(np.degrees(awa)),
            "aws_kn": float(wind / KNOT),
            "wetted_share": float(rose.wetted_share[s, m, p]),
            "litres_h": float(rose.litres[s, m, p]),
            "litres_open_h": float(rose.litres_open[s, m, p]),
        }
        for rose in found.people
        for p, name in enumerate(rose.names)
        for m, awa in enumerate(rose.awa)
        for s, wind in enumerate(winds)
    ]
    return sorted(rows, key=lambda row: (row["name"], row["aws_kn"], row["awa_deg"]))


def _wettest(people: list[Record]) -> str:
    """Return how much falls on whoever gets most, and at which wind, in words."""
    if not people:
        return ""
    most = max(people, key=lambda row: row["litres_h"])
    return (
        f" Of the crew, {most['name']} gets up to {most['litres_h']:.1f} l/h, with {most['aws_kn']:.0f} kn at "
        f"{most['awa_deg']:.0f} deg; {most['litres_open_h']:.1f} in the open."
    )


def _piece(found: Openings) -> Record | None:
    """Return the small piece that would stop most of the rain at the worst angle."""
    piece = found.piece
    if piece is None:
        return None
    size = piece.high - piece.low
    return {
        "side": found.sides[piece.side],
        "stops_share": piece.share,
        "length_m": float(size[:2].max()),
        "height_m": float(size[2]) if found.sides[piece.side] != "above" else float(size[:2].min()),
        "x_m": float((piece.low[0] + piece.high[0]) / 2),
        "y_m": float((piece.low[1] + piece.high[1]) / 2),
        "z_m": float((piece.low[2] + piece.high[2]) / 2),
    }
