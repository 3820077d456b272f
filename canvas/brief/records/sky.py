"""Write the record of `shade`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: with the sun down a share is null over a span; see `canvas.brief.records`.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.geometry.surface import Floats
    from canvas.sky.dose import Doses
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
        sets = {name: _at_one_time(result) for name, result in answer.results.items()}
    else:
        top["days"] = [day.isoformat() for day in asked.days]
        sets = {
            name: {"hours": _hours(result.hours, asked.sun), "days": _days(result.doses)}
            for name, result in answer.results.items()
        }
    return envelope("shade", answer.source, sets=sets, top=top, problems=answer.problems)


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
