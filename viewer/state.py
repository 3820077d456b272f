"""Hold what the page knows before anything is asked.

Computes: nothing.
Units: degrees, hours and the design's own on the page.
Source: none.
Limits: one state for all screens of a server; the page says so.
"""

from __future__ import annotations

from typing import Any

from canvas.brief.cautions import AID, LINE_OF_SIGHT
from canvas.design.schema.design import BARE, Design
from viewer.building import KINDS, NUMBERS
from viewer.starting import BEGIN

TABS = ("Sun", "Wind", "Shape", "Build", "Checks", "Parts", "Beside", "Take")
COORDINATES = ["1.5", "0", "1.5", "0.4", "0.4", "0.4", "0.1"]


def first_state(design: Design, *, starting: bool) -> dict[str, Any]:
    """Return the state of the page when it is opened.

    Parameters
    ----------
    design : Design
    starting : bool
        Whether a new boat is being asked for.
    """
    names = list(design.set_names())
    first = next((name for name in names if name != BARE), names[0])
    return {
        "trame__title": f"{design.name}: cockpit canvas",
        "boat_name": design.name, "sets": names, "set_name": first, "scheme": "day", "tab": "Sun", "tabs": list(TABS),
        "cells": [], "said": "", "busy": "", "wrong": False, "asks_over": False, "visitors": 0, "unsaved": False,
        "can_undo": False, "can_redo": False, "caution": f"{AID} {LINE_OF_SIGHT}",
        **_sun(), **_wind(), **_parts(), **_building(starting=starting), **_beside(),
    }  # fmt: skip


def _sun() -> dict[str, Any]:
    return {
        "lat": -17.0, "day_n": 355, "hour": 15.0, "heading": 90, "heel": 0, "swings": False, "playing": False,
        "lat_text": "", "day_text": "", "hour_text": "", "sun_text": "", "chart": {}, "chart_here": [],
        "eyes": [], "standing": False,
    }  # fmt: skip


def _wind() -> dict[str, Any]:
    return {"awa": 30, "wind_said": "", "roses": [], "flow_said": "", "streams": False, "streams_said": ""}


def _parts() -> dict[str, Any]:
    return {
        "part": "", "parts": [], "part_kinds": [], "handles": [], "set_panels": [], "findings": [], "checks": [],
        "led": "", "flat": [], "flat_name": "", "flat_svg": "", "flat_note": "", "strains": False,
        "flat_said": "Cutting the flat parts …", "measuring": False, "measure_from": "", "measure_to": "",
        "measure_text": "Pick two marks, or two points of the picture.", "mark_names": [], "tube_names": [],
    }  # fmt: skip


def _building(*, starting: bool) -> dict[str, Any]:
    return {
        "starting": starting, "form": [], "begin_with": "canvas", "begin_choices": dict(BEGIN), "kinds": list(KINDS),
        "asks_of": {kind: list(asked) for kind, asked in NUMBERS.items()},
        "new_kind": "panel", "new_name": "", "new_ends": ["", "", "", ""], "new_numbers": list(COORDINATES),
        "between": ["", ""], "between_name": "", "part_name": "", "units": "m",
    }  # fmt: skip


def _beside() -> dict[str, Any]:
    return {
        "versus": "", "versus_design": "", "versus_sets": [], "designs": [], "versus_rows": [], "versus_name": "",
        "layout": "beside", "beside": False,
    }  # fmt: skip
