"""Answer the crew's questions set by set, from the records of all verbs: what a sailor reads first.

Computes: means and extremes of what the records hold; no number that is not in one.
Units: per cent, knots, metres in the words.
Source: the records.
Limits: a question that no record answers is left out; an answer that is not known says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from canvas.design.schema.design import AT_ANCHOR
from canvas.strength.parts import WORST_FIRST

Record = Mapping[str, Any]
FLOW = "flow"  # key of what the air flow told before, beside the line of sight of "vane"
SIGHT_ONLY = "line of sight only"
BY_SIGHT = "by line of sight: "  # begins what is told of a set that was not solved
LISTED = ("fail", "close", "unknown", "pass")
SUN_DOWN = "The sun is down."
SOFT = "Soft: "  # begins what a check notes of a roof that gives under water


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One answer: a verdict, or a few words that stand out, and a line of small print, shorter where it is long."""

    word: str
    note: str = ""
    short: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question and its answer in every set that has one."""

    text: str
    answers: Mapping[str, Cell]


def questions(records: Mapping[str, Record], *, close_hauled_deg: float) -> tuple[Question, ...]:
    """Return what the crew asks, in the order in which they ask it, and the answers there are.

    Parameters
    ----------
    records : mapping of str to record
        By verb, and of the air flow that was solved before by `FLOW`.
    close_hauled_deg : float
        The boat's own apparent wind angle close-hauled.
    """
    found: list[Question] = []
    if "vane" in records:
        record = best_of_vane(records)
        cells = _each(record, lambda one: _vane(one, close_hauled_deg))
        sight = all(not one.get("courses") for one in record["sets"])
        limits = f" ({SIGHT_ONLY})" if sight else ""
        found.append(Question(text=f"Does the vane still get its wind?{limits}", answers=cells))
    if "rain" in records:
        found.append(Question(text="Does it keep the rain off?", answers=_each(records["rain"], _rain)))
    if "shade" in records:
        found.append(Question(text="Are the seats in shade?", answers=_each(records["shade"], _shade)))
        ultraviolet = _each(records["shade"], _ultraviolet)
        if ultraviolet:
            found.append(Question(text="How much ultraviolet does it keep off?", answers=ultraviolet))
    if "fit" in records:
        found.append(Question(text="Can we sit, see, winch and get out?", answers=_each(records["fit"], _fit)))
        found.append(Question(text="Does water stand on it?", answers=_each(records["fit"], _ponding)))
        found.append(Question(text="Can one person strike it?", answers=_each(records["fit"], _striking)))
    if "loads" in records:
        found.append(Question(text="When must it come down?", answers=_each(records["loads"], _loads)))
    if "buy" in records:
        found.append(Question(text="How much cloth, and what does it weigh?", answers=_each(records["buy"], _buy)))
    return tuple(question for question in found if question.answers)


def worst(words: Sequence[str]) -> str:
    """Return the worst of several verdicts; unknown where there are none."""
    return min(words, key=WORST_FIRST.index, default="unknown")


def place_in_list(verdict: str) -> int:
    """Return where a check with that verdict stands in a list that people read; what does not apply stands last.

    The verdict on several checks goes by another order, `WORST_FIRST`: what is not known weighs more than what is
    close, but a reader looks for what can be mended first.
    """
    return LISTED.index(verdict) if verdict in LISTED else len(LISTED)


def worst_under_way(courses: Sequence[Record]) -> str:
    """Return the worst verdict of the courses under way; at anchor no vane steers, and it is told apart."""
    sailed = [course["verdict"] for course in courses if course["name"] != AT_ANCHOR]
    return worst(sailed or [course["verdict"] for course in courses])


def best_of_vane(records: Mapping[str, Record]) -> Record:
    """Return the record of `vane`, each set told by the air flow where that was solved before."""
    solved = {one["name"]: one for one in records.get(FLOW, {}).get("sets", ())}
    return {**records["vane"], "sets": [solved.get(one["name"], one) for one in records["vane"]["sets"]]}


def _each(record: Record, answer: Callable[[Record], Cell | None]) -> dict[str, Cell]:
    cells = {one["name"]: answer(one) for one in record["sets"]}
    return {name: cell for name, cell in cells.items() if cell is not None}


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _vane(one: Record, close_hauled_deg: float) -> Cell | None:
    angles = one.get("angles") or []
    if not angles:
        return None
    if one.get("courses"):
        told = ", ".join(f"{course['name']} {course['verdict']}" for course in one["courses"])
        return Cell(word=worst_under_way(one["courses"]), note=told)
    hauled = [row["clear_share"] for row in angles if abs(abs(row["awa_deg"]) - close_hauled_deg) <= 2.6]
    least = min(angles, key=lambda row: (row["clear_share"], abs(row["awa_deg"])))
    hidden = f"least {_percent(least['clear_share'])}, with the wind at {abs(least['awa_deg']):.0f}°"
    close = f"{_percent(min(hauled))} of the blade is clear close-hauled; " if hauled else ""
    return Cell(word="unknown", note=f"{BY_SIGHT}{close}{hidden}")


def mean_by_place(one: Record, key: str) -> dict[str, float]:
    """Return the mean of a share by place, over the days of a set of `shade` where there are days."""
    rows = [place for day in one.get("days") or [] for place in day["places"]] or one.get("places") or []
    values: dict[str, list[float]] = {}
    for row in rows:
        if row.get(key) is not None:
            values.setdefault(row["name"], []).append(float(row[key]))
    return {name: sum(part) / len(part) for name, part in values.items()}


def _seats(means: Mapping[str, float]) -> dict[str, float]:
    return {name: share for name, share in means.items() if not name.endswith(", heads") and name != "sole"}


def _shade(one: Record) -> Cell | None:
    seats = _seats(mean_by_place(one, "shade_share"))
    if not seats:
        return None
    told = ", ".join(f"{name} {_percent(share)}" for name, share in seats.items())
    return Cell(word=_percent(sum(seats.values()) / len(seats)), note=told)


def shaded(one: Record) -> str:
    """Return how much of seats and helm is in shade, by place, and where and when it is least, in words.

    Parameters
    ----------
    one : record
        A set of `shade`, rounded: null where the sun is down.
    """
    seats = _seats(mean_by_place(one, "shade_share"))
    if not seats:
        return SUN_DOWN
    told = ", ".join(f"{name} {_percent(share)}" for name, share in seats.items())
    days = [
        (place["shade_share"], place["name"], day)
        for day in one.get("days") or []
        for place in day["places"]
        if place["name"] in seats and place["shade_share"] is not None
    ]
    if not days:
        return f"In shade: {told}."
    share, name, day = min(days, key=lambda row: float(row[0]))
    latitude = day["latitude_deg"]
    where = f"{abs(latitude):.0f}° {'S' if latitude < 0 else 'N'}"
    return f"In shade while the sun is up: {told}; least {name}, {_percent(share)}, on {day['day']} at {where}."


def _ultraviolet(one: Record) -> Cell | None:
    seats = _seats(mean_by_place(one, "uv_kept_off_share"))
    if not seats:
        return None
    low, high = min(seats.values()), max(seats.values())
    return Cell(word=_percent(sum(seats.values()) / len(seats)), note=f"by place {_percent(low)} to {_percent(high)}")


def _rain(one: Record) -> Cell | None:
    angles = one.get("angles") or []
    if not angles:
        return None
    by_place: dict[str, list[float]] = {}
    for row in angles:
        for place in row["places"]:
            by_place.setdefault(place["name"], []).append(float(place["wetted_share"]))
    seats = {name: sum(part) / len(part) for name, part in by_place.items()}
    seats = _seats(seats) or seats
    each = [f"{name} {_percent(share)}" for name, share in seats.items()]
    return Cell(
        word=f"{_percent(1 - sum(seats.values()) / len(seats))} dry",
        note="mean of all wind angles: " + ", ".join(f"{one} wet" for one in each),
        short="wet, all winds: " + ", ".join(each),
    )


def _fit(one: Record) -> Cell | None:
    checks = one.get("checks") or []
    if not checks:
        return None
    judged = _judged(checks)
    if not judged:
        return Cell(word="–", note="nothing up to check")
    failing = [check["name"] for check in judged if check["verdict"] != "pass"]
    more = f" and {len(failing) - 2} more" if len(failing) > 2 else ""
    note = "; ".join(failing[:2]) + f"{more} of {len(judged)}" if failing else f"all {len(judged)} checks"
    return Cell(word=judged[0]["verdict"], note=note)


def _judged(checks: Sequence[Record]) -> list[Record]:
    """Return the checks that apply, worst first: the first gives the verdict on all of them."""
    judged = [check for check in checks if check["verdict"] in WORST_FIRST]
    return sorted(judged, key=lambda check: WORST_FIRST.index(check["verdict"]))


def _ponding(one: Record) -> Cell | None:
    return _worst_of(one, "standing water")


def _striking(one: Record) -> Cell | None:
    return _worst_of(one, "striking")


def _worst_of(one: Record, start: str) -> Cell | None:
    """Return the worst of the checks whose names begin so, with its value, and why a roof that holds none is close."""
    mine = [check for check in one.get("checks") or [] if check["name"].startswith(start)]
    judged = _judged(mine)
    if not judged:
        return Cell(word="–", note=mine[0].get("note") or "") if mine else None
    first = judged[0]
    value = "not known" if first["value"] is None else f"{first['value']:.3g} {first['unit']}"
    soft = str(first.get("note") or "").partition(SOFT)[2].partition(". ")[0]
    return Cell(word=first["verdict"], note=f"{first['name']}: {value}" + (f"; soft: {soft}" if soft else ""))


def _loads(one: Record) -> Cell | None:
    known = [part for part in one.get("parts") or [] if part.get("limit_aws_kn_low") is not None]
    if not known:
        return Cell(word="unknown") if one.get("parts") else None
    first = min(known, key=lambda part: part["limit_aws_kn_low"])
    high = first.get("limit_aws_kn_high")
    low = f"{first['limit_aws_kn_low']:.0f}"
    span = f"{low} kn or more" if high is None else f"{low} to {high:.0f} kn"
    strike = one.get("strike_at_kn")
    word = "unknown" if strike is None else f"{strike:.0f} kn"
    return Cell(word=word, note=f"mean apparent wind, gusts on top; first to go, at {span}: {first['name']}")


def _buy(one: Record) -> Cell | None:
    cloth = one.get("cloth") or []
    if not cloth:
        return None
    mass = sum(row["mass_kg"] for row in cloth if row.get("mass_kg") is not None)
    told = ", ".join(f"{row['name']} {row['roll_length_m']:.1f} m" for row in cloth)
    return Cell(word=f"{sum(row['area_m2'] for row in cloth):.1f} m²", note=f"{told}; {mass:.1f} kg of cloth")


def lead(asked: Sequence[Question], *, under_way: Sequence[str]) -> tuple[str, ...]:
    """Return one or two sentences that say what the table shows, about the sets used under way.

    Parameters
    ----------
    asked : sequence of Question
    under_way : sequence of str
        Sets used under way, bare left out.
    """
    said: list[str] = []
    for question in asked:
        shares = {
            name: float(cell.word.split(" ")[0]) for name, cell in question.answers.items()
            if name in under_way and cell.word.split(" ")[-1] in ("%", "dry")
        }  # fmt: skip
        if len(shares) > 1 and question.text.startswith(("Are the seats", "Does it keep the rain")):
            most, least = max(shares, key=lambda n: shares[n]), min(shares, key=lambda n: shares[n])
            what = "keeps most sun off the seats" if "shade" in question.text else "keeps the seats driest"
            said.append(
                f"Under way, “{most}” {what}: {shares[most]:.0f} %, against {shares[least]:.0f} % with “{least}”."
            )
    for question in asked:
        if question.text.startswith("Does the vane"):
            words = {name: cell.word for name, cell in question.answers.items() if name in under_way}
            sighted = [name for name in words if question.answers[name].note.startswith(BY_SIGHT)]
            if words and SIGHT_ONLY in question.text:
                told = "Whether the vane still steers is not known from line of sight; only what hides it is."
                said.append(f"{told} “canvas vane --method flow” solves the air.")
            else:
                for word, told in (
                    ("pass", "By the air flow, an estimate, the vane steers on every course with"),
                    ("fail", "By the air flow, an estimate, the vane does not steer on every course with"),
                    ("close", "It is too close to call with"),
                    ("unknown", "It is not known on every course with"),
                ):  # fmt: skip
                    said += _named(told, [name for name, one in words.items() if one == word and name not in sighted])
                said += _named(
                    "Only line of sight is known, until “canvas vane --method flow” solves the air, with", sighted
                )
    return tuple(said)


def _named(told: str, sets: Sequence[str]) -> list[str]:
    return [f"{told} {', '.join(f'“{name}”' for name in sets)}."] if sets else []
