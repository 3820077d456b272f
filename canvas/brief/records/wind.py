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
from canvas.brief.records import Record, Writer, envelope

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
    top = {"method": answer.top, "label": LABELS[answer.top]}
    return envelope("vane", answer.source, sets=sets, top=top, problems=answer.problems)


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
    }


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
    return {
        "name": one.course.name,
        "awa_deg": float(np.degrees(one.course.awa)),
        "verdict": one.steering.verdict,
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
    words = {"pass": "steers", "fail": "do not count on it", "close": "too close to call", "unknown": "not known"}
    return "; ".join(f"{one.course.name}: {words[one.steering.verdict]}" for one in result.courses) + "."


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
