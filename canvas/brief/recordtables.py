"""Lay a verb's record out as HTML tables: the keys that people compare, one table over all sets where that is shorter.

Computes: nothing; every number comes rounded from the record.
Units: as the keys end, said in the heads.
Source: none.
Limits: long lists are thinned and say so; the record itself has all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from canvas.brief.heads import head_of
from canvas.brief.markup import Column, Html, badge, element, sided, table
from canvas.brief.verdicts import mean_by_place

Record = Mapping[str, Any]
LOAD_KEYS = ("load_n", "strength_n", "limit_aws_kn_low", "limit_aws_kn_high")
MOST = 60  # rows of a table
IN_WORDS = {"aws": "apparent wind", "tws": "true wind", "awa": "apparent wind angle"}
COVERING = 4  # pieces of canvas a set in the table of what hides the blade
STEP_DEG = 15  # between the wind angles of a table


def record_tables(verb: str, record: Record) -> list[Html]:
    """Return the tables of a verb's record."""
    special: Mapping[str, Callable[[Record], list[Html]]] = {
        "vane": _vane, "shade": _shade, "rain": _rain, "fit": _fit, "loads": _loads,
    }  # fmt: skip
    return special.get(verb, _plain)(record)


def head(key: str) -> str:
    """Return a key as a table's head, winds in words, its unit set apart."""
    one = head_of(key)
    what = " ".join(IN_WORDS.get(word, word) for word in one.what.split(" "))
    return ", ".join(word for word in (what, "%" if one.share else one.unit, one.end) if word)


def cell(key: str, value: Any) -> object:
    """Return a value as a table shows it."""
    if key == "verdict" and value is not None:
        return badge(str(value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number(key, value)
    return "–" if value is None else str(value)


def _number(key: str, value: float) -> str:
    if head_of(key).share:
        return f"{100 * value:.0f}"
    if key.endswith("_deg") or isinstance(value, int) or abs(value) >= 1000:
        return f"{round(value)}"
    if head_of(key).unit == "kn":
        return f"{value:.1f}"
    return f"{value:.3f}" if abs(value) < 10 else f"{value:.1f}"


def _plain(record: Record) -> list[Html]:
    made = [made for key, rows in record.items() if key != "sets" and (made := _rows(key, rows))]
    for one in record["sets"]:
        found = [part for key, rows in one.items() if (part := _rows(key, rows))]
        if found:
            made += [element("h3", one["name"]), *found]
    return made


def _rows(key: str, rows: Any) -> Html | None:
    """Return a list of records as a table; None for anything else, and for an empty list."""
    if not isinstance(rows, list) or not rows or not isinstance(rows[0], Mapping) or key in ("problems", "files"):
        return None
    keys = [k for k in dict.fromkeys(k for row in rows for k in row) if not isinstance(rows[0].get(k), list | Mapping)]
    keys = [k for k in keys if any(row.get(k) is not None for row in rows)]
    if "name" in keys:
        keys = ["name", *(k for k in keys if k != "name")]
    columns = [Column(head=head(k), numbers=any(isinstance(row.get(k), int | float) for row in rows)) for k in keys]
    body = [[cell(k, row.get(k)) for k in keys] for row in rows[:MOST]]
    cut = f" (the first {MOST} of {len(rows)})" if len(rows) > MOST else ""
    return table(columns, body, caption=key.replace("_", " ") + cut)


def _vane(record: Record) -> list[Html]:
    sets = [one for one in record["sets"] if one.get("angles")]
    made: list[Html] = []
    for key, said in (
        ("clear_share", "share of the blade that sees upwind, %"),
        ("speed_ratio", "speed, set against bare"),
    ):
        known = [one for one in sets if any(row.get(key) is not None for row in one["angles"])]
        if known:
            made.append(_by_angle(known, said, lambda row, key=key: cell(key, row.get(key))))  # type: ignore[misc]
    for one in sets:
        courses = _rows("courses", one.get("courses"))
        if courses is not None:
            made += [element("h3", one["name"]), courses]
    covers = [row for one in sets for row in _covering(one)]
    if covers:
        heads = ("panel", "in the set", "covers at most, %", "that nothing else covers, %", "with the wind at, °")
        columns = [Column(head=one, numbers=k > 1) for k, one in enumerate(heads)]
        made.append(table(columns, covers, caption=f"Which canvas hides the blade, at most {COVERING} a set"))
    return made


def _covering(one: Record) -> list[list[object]]:
    """Return the canvas of a set that hides most of the blade, most of what nothing else hides first."""
    rows = [row for row in one.get("covers") or [] if row["panel"] is not None and row["covers_share_most"] >= 0.01]
    rows = sorted(rows, key=lambda row: (-row["covers_alone_share_most"], -row["covers_share_most"]))[:COVERING]
    keys = ("covers_share_most", "covers_alone_share_most", "at_awa_deg")
    return [[row["name"], one["name"], *(cell(key, row[key]) for key in keys)] for row in rows]


def _by_angle(sets: Sequence[Record], caption: str, value: Callable[[Record], object]) -> Html:
    angles = [row["awa_deg"] for row in sets[0]["angles"] if abs(row["awa_deg"] % STEP_DEG) < 0.01]
    columns = [Column(head="wind at, °"), *(Column(head=one["name"], numbers=True) for one in sets)]
    found = [{row["awa_deg"]: row for row in one["angles"]} for one in sets]
    body = [[sided(awa), *(value(rows[awa]) if awa in rows else "–" for rows in found)] for awa in angles]
    note = f"Table: {caption}; + is from starboard, every {STEP_DEG}°"
    return element("details", element("summary", note), table(columns, body))


def _shade(record: Record) -> list[Html]:
    made: list[Html] = []
    for key, said in (
        ("shade_share", "in shade, %"),
        ("uv_kept_off_share", "ultraviolet kept off over the day, %"),
        ("energy_kept_off_share", "sun's energy kept off over the day, %"),
    ):
        found = [(one["name"], mean_by_place(one, key)) for one in record["sets"]]
        found = [(name, means) for name, means in found if means]
        if not found:
            continue
        columns = [Column(head="place"), *(Column(head=name, numbers=True) for name, _ in found)]
        places = list(dict.fromkeys(place for _, means in found for place in means))
        body = [[place, *(cell("_share", means.get(place)) for _, means in found)] for place in places]
        days = record.get("days")
        mean = f", mean of {len(days)} days and their latitudes" if days else ""
        made.append(table(columns, body, caption=said + mean))
    return made


def _rain(record: Record) -> list[Html]:
    sets = [one for one in record["sets"] if one.get("angles")]
    if not sets:
        return []
    speeds = sorted({row["aws_kn"] for row in sets[0]["angles"]})
    said = f"mean of {', '.join(f'{speed:.0f}' for speed in speeds)} kn" if len(speeds) > 1 else f"{speeds[0]:.0f} kn"
    made = []
    for name in [place["name"] for place in sets[0]["angles"][0]["places"]]:
        wet = [{"name": one["name"], "angles": wetted(one["angles"], name)} for one in sets]
        caption = f"{name}: wetted share, %, {said}"
        made.append(_by_angle(wet, caption, lambda row: cell("wetted_share", row["mean"])))
    return made


def wetted(angles: Sequence[Record], place: str) -> list[dict[str, float]]:
    """Return the mean, least and greatest wetted share of a place by wind angle, over all wind speeds."""
    by_angle: dict[float, list[float]] = {}
    for row in angles:
        share = next((one["wetted_share"] for one in row["places"] if one["name"] == place), None)
        if share is not None:
            by_angle.setdefault(float(row["awa_deg"]), []).append(float(share))
    return [
        {"awa_deg": awa, "mean": sum(part) / len(part), "low": min(part), "high": max(part)}
        for awa, part in by_angle.items()
    ]


def _fit(record: Record) -> list[Html]:
    sets = [one for one in record["sets"] if one.get("checks")]
    if not sets:
        return []
    found = [{check["name"]: check for check in one["checks"]} for one in sets]
    names = list(dict.fromkeys(name for checks in found for name in checks))
    columns = [Column(head="check"), *(Column(head=one["name"]) for one in sets)]
    body = [[name, *(_checked(checks.get(name)) for checks in found)] for name in names]
    made = [table(columns, body, caption="Every check in every set")]
    for one in sets:
        rows = [
            [check["name"], badge(check["verdict"]), check.get("note") or ""]
            for check in one["checks"]
            if check["verdict"] in ("fail", "close", "unknown")
        ]
        if rows:
            heads = [Column(head="check"), Column(head=""), Column(head="where and why")]
            inner = table(heads, rows)
            made.append(element("details", element("summary", f"{one['name']}: {len(rows)} to look at"), inner))
    return made


def _checked(check: Record | None) -> Html:
    if check is None:
        return Html("–")
    if check["verdict"] == "not applicable":
        return Html("n/a")
    value, unit = check.get("value"), check.get("unit") or ""
    if value is None:
        said = ""
    elif unit == "share":
        said = f"{100 * value:.0f} %"
    else:
        said = f"{value:.3g} {unit}".removesuffix(" count").strip()
    return element("span", badge(check["verdict"]), element("small", f" {said}") if said else "")


def _loads(record: Record) -> list[Html]:
    made: list[Html] = []
    for one in record["sets"]:
        known = [part for part in one.get("parts") or [] if part.get("limit_aws_kn_low") is not None]
        weakest = sorted(known, key=lambda part: part["limit_aws_kn_low"])[:12]
        if not weakest:
            continue
        rows = [[part["name"], *(cell(key, part.get(key)) for key in LOAD_KEYS)] for part in weakest]
        columns = [Column(head="part"), *(Column(head=head(key), numbers=True) for key in LOAD_KEYS)]
        made.append(table(columns, rows, caption=f"{one['name']}: the {len(rows)} weakest parts"))
        for key, said in (("weak_links", "what should let go first, and where it can reach"), ("roofs", "water on it")):
            found = _rows(key, one.get(key))
            if found is not None:
                made.append(element("details", element("summary", f"{one['name']}: {said}"), found))
    return made
