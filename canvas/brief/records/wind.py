"""Write the record of `vane`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: keys that a method cannot answer are null, never 0.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from canvas.air.wind import KNOT
from canvas.brief.cautions import GAS
from canvas.brief.records import Record, Writer, envelope
from canvas.wind.readings import PROTOCOL, Compared, measured

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.wind.blade import Estimate
    from canvas.wind.sector import Sector
    from canvas.wind.wake import Wake

FEELS = (
    "speed_ratio", "speed_ratio_low", "speed_ratio_high", "speed_ratio_free", "force_ratio", "turn_deg", "gain",
    "unsteadiness", "wander_deg", "wake_word", "lowest_aws_kn", "lowest_aws_kn_low", "lowest_aws_kn_high",
)  # fmt: skip


LABELS = {
    "sector": "line of sight, no verdict",
    "wake": "wake estimate: rough, cannot show gains",
    "flow": "air flow solved: an estimate with its band",
}


def vane_record(answer: Answer) -> Record:
    """Return the record of `vane`, by the method that was asked for."""
    writers: dict[str, Writer] = {"sector": _sector, "wake": _wake, "flow": _flow}
    write = writers[answer.top]
    sets = {name: write(result) for name, result in answer.results.items()}
    taken = measured(answer.source.design.reading)
    for name, record in sets.items():
        unread = [Compared(measured=m, flow=None, after=None, says="not run") for m in taken if m.set_name == name]
        record.setdefault("readings", [_reading(one) for one in unread])
    needed = answer.source.design.vane.needed_from / KNOT
    top = {"method": answer.top, "label": LABELS[answer.top], "protocol": PROTOCOL, "must_steer_from_kn": needed}
    if answer.top == "flow":
        top["device"] = next(iter(answer.results.values())).device
    record = envelope("vane", answer.source, sets=sets, top=top, problems=answer.problems)
    for one in record["sets"]:
        if one.get("drift"):
            one["cautions"] = [*one["cautions"], GAS]
    return record


def _wake(result: Wake) -> Record:
    counts = {word: result.words.count(word) for word in ("in wake", "edge of wake")}
    angles = [
        {
            "awa_deg": float(np.degrees(awa)),
            "clear_share": None,
            **dict.fromkeys(FEELS),
            "wake_word": word,
            "verdict": "unknown",
        }
        for awa, word in zip(result.awa, result.words, strict=True)
    ]
    said = ", ".join(f"{word} at {count} of {len(angles)} angles" for word, count in counts.items())
    return {"sentence": f"Wake estimate, rough: {said}.", "angles": angles, "courses": []}


def _flow(result: Any) -> Record:
    return {
        "sentence": _flow_sentence(result),
        "angles": [_felt(one) for one in result.angles],
        "courses": [_on_course(one) for one in result.courses],
        "readings": [_reading(one) for one in result.readings],
        "drift": [row for awa, told in result.outcomes.items() for row in _drift(awa, told)],
        "air_speed": [row for awa, told in result.outcomes.items() for row in _air_speed(awa, told)],
        "panel_pressure": [row for awa, told in result.outcomes.items() for row in _pressures(awa, told)],
        "cures": [row for one in result.cures for row in _cures(one)],
        "cells_most": result.need.cells,
        "memory_gb": result.need.memory / 1e9,
        "updates_most": result.need.updates,
    }


def _reading(one: Compared) -> Record:
    """Return a reading beside the flow: shares of the free wind from a meter, degrees from a ribbon."""
    angle = one.measured.kind == "ribbon"

    def ends(key: str, value: Estimate | None) -> Record:
        names = (key, f"{key}_low", f"{key}_high")
        if value is None:
            return dict.fromkeys(names)
        parts = (value.value, value.low, value.high)
        return dict(zip(names, (float(np.degrees(p)) if angle else p for p in parts), strict=True))

    unit = "turn_deg" if angle else "speed_ratio_free"
    return {
        "kind": one.measured.kind, "awa_deg": float(np.degrees(one.measured.awa)), "count": one.measured.count,
        **ends(unit, one.measured.value), **ends(f"flow_{unit}", one.flow), **ends(f"taken_{unit}", one.after),
        "says": one.says,
    }  # fmt: skip


def _drift(awa: float, told: Any) -> list[Record]:
    return [
        {
            "outlet": outlet, "awa_deg": float(np.degrees(awa)),
            "reaches": ", ".join(place for place, hit in zip(told.places, row, strict=True) if hit) or "none shown",
        }
        for outlet, row in zip(told.outlets, told.drift, strict=True)
    ]  # fmt: skip


def _air_speed(awa: float, told: Any) -> list[Record]:
    return [
        {"place": place, "awa_deg": float(np.degrees(awa)), "speed_ratio_free": float(speed)}
        for place, speed in zip(told.places, told.place_speed, strict=True)
    ]


def _pressures(awa: float, told: Any) -> list[Record]:
    return [
        {"panel": panel, "awa_deg": float(np.degrees(awa)), "coefficient": float(value)}
        for panel, value in zip(told.panels, told.panel_pressure, strict=True)
    ]


def _cures(one: Any) -> list[Record]:
    return [
        {
            "name": name, "kind": kind, "awa_deg": float(np.degrees(one.awa)), "speed_ratio_free_gained": float(gained),
            "error": float(error), "most": name == one.best, "costs_most": name == one.costliest,
        }
        for name, kind, gained, error in zip(one.names, one.kinds, one.gained, one.error, strict=True)
    ]  # fmt: skip


def _felt(one: Any) -> Record:
    wind, known = one.wind, one.wind.known
    ratio = wind.speed_ratio if known else None
    return {
        "awa_deg": float(np.degrees(one.awa)),
        "clear_share": None,
        "speed_ratio": None if ratio is None else ratio.value,
        "speed_ratio_low": wind.speed_ratio.low,
        "speed_ratio_high": wind.speed_ratio.high,
        "speed_ratio_free": wind.speed_ratio_free.value,
        "force_ratio": wind.force_ratio.value if known else None,
        "force_ratio_low": wind.force_ratio.low,
        "force_ratio_high": wind.force_ratio.high,
        "turn_deg": float(np.degrees(wind.turn)),
        "gain": wind.gain,
        "unsteadiness": wind.unsteadiness,
        "wander_deg": float(np.degrees(wind.wander)),
        "wake_word": None,
        "verdict": one.steering.verdict,
        "cell_m": one.cell,
        **_lowest("lowest_aws_kn", one.steering.lowest),
    }


def _on_course(one: Any) -> Record:
    turned = one.turned
    return {
        "name": one.course.name,
        "awa_deg": float(np.degrees(one.course.awa)),
        "verdict": one.steering.verdict,
        "setting_turns_course_deg": None if turned is None else float(np.degrees(turned.setting)),
        "may_gybe_on": None if turned is None else turned.gybes or "no",
        **_lowest("lowest_aws_kn", one.steering.lowest),
        **_lowest("lowest_tws_kn", one.true_wind),
    }


def _lowest(key: str, found: Estimate | None) -> Record:
    ends = (None, None, None) if found is None else (found.value, found.low, found.high)
    return {
        name: None if end is None else end / KNOT
        for name, end in zip((key, f"{key}_low", f"{key}_high"), ends, strict=True)
    }


def _flow_sentence(result: Any) -> str:
    if not result.courses:
        return "No course was among the angles asked: no verdict by course."
    words = {"pass": "steers", "fail": "not in the wind the crew needs it in", "close": "too close to call"}
    said = []
    for one in result.courses:
        none = one.steering.verdict == "fail" and one.steering.lowest is None
        word = "do not count on it in any wind" if none else words.get(one.steering.verdict, "not known")
        said.append(f"{one.course.name}: {word}")
    parts = ["; ".join(said) + "."]
    parts += [
        f"{one.turned.gybes.capitalize()} this canvas on the {one.course.name} with the vane left alone turns the "
        f"course {abs(np.degrees(one.turned.setting)):.0f} deg and may gybe her: steer by hand, then reset the vane."
        for one in result.courses
        if one.turned is not None and one.turned.gybes is not None
    ]
    for one in result.cures:
        kind = dict(zip(one.names, one.kinds, strict=True))
        if one.costliest is not None:
            more = ", more than any canvas" if kind[one.costliest] == "thing" else ""
            parts.append(f"At {np.degrees(one.awa):.0f} deg the {one.costliest} costs the vane most{more}.")
        if one.best is not None and one.best != one.costliest:
            parts.append(f"Most is won by: {one.best}.")
    return " ".join(parts)


def _sector(result: Sector) -> Record:
    hidden = [float(np.degrees(a)) for a, clear in zip(result.awa, result.clear_share, strict=True) if clear < 0.5]
    said = f"from {_spans(hidden)}" if hidden else "from no wind angle"
    angles = [
        {
            "awa_deg": float(np.degrees(awa)),
            "clear_share": float(clear),
            **dict.fromkeys(FEELS),
            "verdict": "unknown",
        }
        for awa, clear in zip(result.awa, result.clear_share, strict=True)
    ]
    covers = [
        {
            "name": surface,
            "panel": panel,
            "covers_share_most": float(result.covers[k].max()),
            "covers_alone_share_most": float(result.covers_alone[k].max()),
            "at_awa_deg": float(np.degrees(result.awa[int(np.argmax(result.covers[k]))])),
        }
        for k, (surface, panel) in enumerate(zip(result.surfaces, result.panels, strict=True))
    ]
    sentence = f"Line of sight: more than half of the blade is hidden {said}."
    return {"sentence": sentence, "angles": angles, "covers": covers, "courses": []}


def _spans(degrees: list[float]) -> str:
    """Return angles as spans for people, such as ``-20 to 20 deg``."""
    spans: list[list[float]] = []
    for one in sorted(degrees):
        if spans and one - spans[-1][1] <= 5.01:
            spans[-1][1] = one
        else:
            spans.append([one, one])
    return ", ".join(f"{low:.0f} to {high:.0f}" if high > low else f"{low:.0f}" for low, high in spans) + " deg"
