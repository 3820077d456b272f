"""Turn results into what the page draws itself: roses and the chart of hour by latitude.

Computes: points of polygons, colours of squares.
Units: radians and shares in; a rose is 50 wide at 1.
Source: none.
Limits: colours run from deep blue (shade) to white (sun) by day, dark red to bright red by night; figures stand beside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from canvas.geometry.surface import Floats
from viewer.light import HOURS, LATITUDES_DEG, Asked, Chart

FULL = 50.0
RIM = 53.0
READABLE = 4.6  # contrast of figures on their squares; WCAG 2.2 asks for 4.5
SEATS = ("port seat", "starboard seat", "helm")
ENDS = {"day": ((0xFF, 0xE6, 0x8A), (0x1F, 0x4E, 0x79)), "night": ((0xFF, 0x86, 0x69), (0x2A, 0x07, 0x05))}
INKS = {"day": ("#000000", "#ffffff"), "night": ("#140403", "#ffd9cf")}


def rose_points(awa: Floats, value: Floats) -> str:
    """Return the corners of a rose as SVG has them: ahead up, starboard to the right."""
    order = np.argsort(awa)
    r = FULL * np.nan_to_num(value[order])
    x, y = r * np.sin(awa[order]), -r * np.cos(awa[order])
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))


def rose_band(awa: Floats, low: Floats, high: Floats) -> str:
    """Return the band of a rose as a path with a hole."""
    return "".join(f"M{rose_points(awa, one).replace(' ', ' L')}Z" for one in (high, low))


def rim(degrees: Sequence[float], words: Sequence[str], step: float) -> list[dict[str, str]]:
    """Return arcs outside a rose where the wake estimate is not clear: the path of each, and its word."""
    arcs = []
    for middle, word in zip(degrees, words, strict=True):
        if word == "clear":
            continue
        a, b = np.radians([middle - step / 2, middle + step / 2])
        (x0, y0), (x1, y1) = ((RIM * np.sin(one), -RIM * np.cos(one)) for one in (a, b))
        arcs.append({"d": f"M{x0:.1f} {y0:.1f}A{RIM} {RIM} 0 0 1 {x1:.1f} {y1:.1f}", "word": word})
    return arcs


def here_of(asked: Asked) -> list[float]:
    """Return the latitude [deg] and the hour of the square of the chart that is nearest to what is asked about."""
    near = np.argmin(np.abs(LATITUDES_DEG - np.degrees(asked.latitude)))
    return [float(LATITUDES_DEG[near]), float(HOURS[np.argmin(np.abs(HOURS - asked.hour))])]


def squares(chart: Chart, *, scheme: str) -> dict[str, Any]:
    """Return the chart for the page, north up."""
    rows = []
    for k in reversed(range(len(chart.latitudes_deg))):
        latitude = float(chart.latitudes_deg[k])
        cells = [
            _square(float(chart.share[k, m]), float(chart.hours[m]), scheme=scheme) for m in range(len(chart.hours))
        ]
        rows.append({"lat": latitude, "name": latitude_text(latitude), "hours": cells})
    return {"cells": rows, "hours": [f"{h:.0f}" for h in chart.hours]}


def _square(share: float, hour: float, *, scheme: str) -> dict[str, Any]:
    if not np.isfinite(share):
        colour = "#8b949a" if scheme == "day" else "#1a0504"
        return {"hour": hour, "colour": colour, "ink": INKS[scheme][0], "said": "sun down", "text": ""}
    lit, shaded = (np.array(end, dtype=float) for end in ENDS[scheme])
    mixed = lit + share * (shaded - lit)
    ink = max(INKS[scheme], key=lambda one: contrast(_parts(one), mixed))
    while contrast(_parts(ink), mixed) < READABLE:
        mixed *= 0.95
        ink = INKS[scheme][1]
    colour = "#" + "".join(f"{round(part):02x}" for part in mixed)
    said = f"{100 * share:.0f} % in shade"
    return {"hour": hour, "colour": colour, "ink": ink, "said": said, "text": f"{100 * share:.0f}"}


def contrast(one: Floats, other: Floats) -> float:
    """Return the contrast ratio of two colours, 0..255 each part (WCAG 2.2)."""
    low, high = sorted(_luminance(part) for part in (one, other))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: Floats) -> float:
    part = colour / 255.0
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


def _parts(colour: str) -> Floats:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], dtype=float)


def latitude_text(degrees: float) -> str:
    """Return a latitude for people."""
    if degrees == 0:
        return "0°"
    return f"{abs(degrees):g}° {'N' if degrees > 0 else 'S'}"


def spans_text(awa: Floats, value: Floats, *, under: float) -> str:
    """Return where a rose is under a share, for people who cannot see it."""
    low = np.degrees(awa[value < under])
    return f"least {100 * float(np.min(value)):.0f} %, under {100 * under:.0f} % at {len(low)} of {len(awa)} angles"


def rain_rose(record: Mapping[str, Any]) -> dict[str, Any]:
    """Return the rain rose of a set: dry share of the seats, mean of the winds asked about, with the band of winds."""
    rows = record["sets"][0]["angles"]
    seats = [place["name"] for place in rows[0]["places"] if place["name"] in SEATS]
    by_angle: dict[float, list[float]] = {}
    for row in rows:
        wet = float(np.mean([place["wetted_share"] for place in row["places"] if place["name"] in seats]))
        by_angle.setdefault(row["awa_deg"], []).append(1.0 - wet)
    degrees = np.array(sorted(by_angle))
    dry = np.array([by_angle[angle] for angle in degrees])
    awa = np.radians(degrees)
    winds = sorted({row["aws_kn"] for row in rows})
    return {
        "key": "rain", "rim": [],
        "name": f"Rain: share of the seats that stays dry, wind {winds[0]:.0f} to {winds[-1]:.0f} kn",
        "points": rose_points(awa, dry.mean(axis=1)), "bare": "",
        "band": rose_band(awa, dry.min(axis=1), dry.max(axis=1)),
        "said": spans_text(awa, dry.mean(axis=1), under=0.5) + "; band: from the lightest wind to the strongest",
    }  # fmt: skip
