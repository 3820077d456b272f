"""Put what spoils a set first into one table: a row a set, from the records of the verbs.

Computes: picks the worst of what the records hold; no number that is not in one.
Units: as the keys end.
Source: the records.
Limits: what a set's purpose leaves out says "not applicable": at anchor no vane steers, and the wind is taken from all
    round, for she sheers and swings. What no record answers is null.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from canvas.brief.records import Record
from canvas.brief.verdicts import worst, worst_under_way
from canvas.design.schema.design import BARE, Design

NOT_ASKED = "not applicable"
SEATS = ("port seat", "starboard seat", "helm")


def one_table(design: Design, records: Mapping[str, Mapping[str, Any]]) -> list[Record]:
    """Return a row a set: what is up, what it is for, and what fails first by each verb.

    Parameters
    ----------
    design : Design
    records : mapping of str to record
        By verb, those there are of vane, rain, fit and loads.
    """
    asked = {verb: {one["name"]: one for one in record["sets"]} for verb, record in records.items()}
    names = [name for name in design.set_names() if any(name in sets for sets in asked.values())]
    return [_row(design, name, {verb: sets[name] for verb, sets in asked.items() if name in sets}) for name in names]


def _row(design: Design, name: str, found: Mapping[str, Mapping[str, Any]]) -> Record:
    used = design.set_named(name).used
    under_way = "under way" in used
    return {
        "name": name,
        "used": ", ".join(used),
        "up": ", ".join(up.panel for up in design.panels_up(name)) or "nothing",
        "wind_from": "as she sails" if under_way else "all round: she sheers and swings",
        "vane": _vane(found.get("vane")) if under_way else NOT_ASKED,
        **_rain(found.get("rain")),
        **_checks(found.get("fit")),
        **_loads(found.get("loads"), up=name != BARE),
    }


def _vane(one: Mapping[str, Any] | None) -> str | None:
    if one is None:
        return None
    return worst_under_way(one.get("courses") or [])


def _rain(one: Mapping[str, Any] | None) -> Record:
    if one is None or not one.get("angles"):
        return {"wettest_seat": None, "wettest_share": None, "wettest_awa_deg": None}
    rows = [(place["wetted_share"], place["name"], row["awa_deg"]) for row in one["angles"] for place in row["places"]]
    share, seat, awa = max(row for row in rows if row[1] in SEATS)
    return {"wettest_seat": seat, "wettest_share": share, "wettest_awa_deg": awa}


def _checks(one: Mapping[str, Any] | None) -> Record:
    checks = [] if one is None else one["checks"]
    judged = [check for check in checks if check["verdict"] != NOT_ASKED]
    failing = [check for check in judged if check["verdict"] == "fail"]
    first = min(
        (check for check in failing if check["margin"] is not None and check["limit"] is not None),
        key=lambda check: check["margin"] / max(abs(check["limit"]), 1e-3), default=None,
    )  # fmt: skip
    return {
        "checks": worst([check["verdict"] for check in judged]) if judged else None,
        "checks_failed": len(failing),
        "checks_not_applicable": len(checks) - len(judged),
        "first_to_mend": None if first is None else first["name"],
        "water_on_roofs": _of(checks, "standing water"),
        "striking": _of(checks, "striking"),
        "look_out": _of(checks, "horizon hidden"),
        "ways_out": _of(checks, "ways out"),
    }


def _of(checks: list[Mapping[str, Any]], start: str) -> str | None:
    """Return the worst verdict of the checks whose names begin so; not applicable where all are."""
    mine = [check["verdict"] for check in checks if check["name"].startswith(start)]
    judged = [verdict for verdict in mine if verdict != NOT_ASKED]
    return worst(judged) if judged else NOT_ASKED if mine else None


def _loads(one: Mapping[str, Any] | None, *, up: bool) -> Record:
    if one is None or not up:
        return {"strike_at_kn": None, "first_to_go": NOT_ASKED if not up else None, "holds": None}
    known = [part for part in one["parts"] if part["limit_aws_kn_low"] is not None]
    first = min(known, key=lambda part: part["limit_aws_kn_low"], default=None)
    return {
        "strike_at_kn": one["strike_at_kn"],
        "first_to_go": None if first is None else first["name"],
        "holds": one["verdict"],
    }
