"""Make the pictures of a verb's answer: views, roses, shade, bars, rolls.

Computes: which pictures an answer has; numbers come from its record or its results.
Units: see `canvas.brief.views` and `canvas.brief.plots`.
Source: none.
Limits: SVG only; a picture that has nothing to show is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from canvas.brief.answer import Answer
from canvas.brief.drawing import MM, beside
from canvas.brief.figures import picture
from canvas.brief.frame import frame_of, sheet_for
from canvas.brief.heads import head_of
from canvas.brief.plots import ShadeLine, ShadeMap, bars, matrix, shade_days, shade_maps
from canvas.brief.projection import ViewName
from canvas.brief.recordtables import head, wetted
from canvas.brief.rolls import roll_drawing
from canvas.brief.roses import RoseLine, roses
from canvas.brief.slices import air_slices
from canvas.brief.spots import key_drawing, numbered_spots
from canvas.brief.studyplots import Series, sweep_lines, trade_off
from canvas.brief.svg import svg_text
from canvas.brief.views import Drafter
from canvas.cloth.rigging import Rigging
from canvas.cutting.result import CutResult
from canvas.design.schema.design import BARE
from canvas.geometry.surface import Floats
from canvas.jobs.files import slug, write_whole

VIEWS: tuple[ViewName, ...] = ("plan", "profile", "aft")
MARKED: tuple[ViewName, ...] = ("plan", "profile")
MAPPED = 3  # fewer latitudes are told by their days
PAPER, LETTERS = 0.136, 3.4 * MM  # of views in a page: read on a phone, to scale on A4


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One picture: file name without ending, what it shows, and the SVG."""

    name: str
    title: str
    svg: str


def pictures(answer: Answer) -> tuple[Picture, ...]:
    """Return the pictures of an answer, in the order of its sets."""
    draw = PICTURES.get(answer.verb)
    return draw(answer) if draw is not None else ()


def write_pictures(answer: Answer, folder: Path) -> tuple[Path, ...]:
    """Write the pictures of an answer into a folder.

    Raises
    ------
    CouldNot
        When the folder cannot be written.
    """
    return tuple(write_whole(folder / f"{one.name}.svg", one.svg) for one in pictures(answer))


def drafter_of(rigging: Rigging, *, paper: float = PAPER, text: float = LETTERS, units: str | None = None) -> Drafter:
    """Return the drafter of a boat, its frame wide enough for all its sets.

    Parameters
    ----------
    rigging : Rigging
    paper : float
        Width of paper for the widest view [m].
    text : float
        Height of letters [m].
    units : str, optional
        The design's own where absent.
    """
    design = rigging.model.design
    frame = frame_of([rigging.rig(name).scene for name in design.set_names()])
    sheet = sheet_for(frame, paper=paper, units=units or design.units, text=text)
    return Drafter(frame=frame, sheet=sheet, tubes=rigging.model.tubes, panels=[panel.name for panel in design.panel])


def _views(answer: Answer) -> tuple[Picture, ...]:
    drafter = drafter_of(answer.rigging)
    return tuple(
        Picture(
            name=slug("view", name, view),
            title=f"{name}, {view}",
            svg=svg_text(drafter.view(answer.rigging.rig(name).scene, view), alone=True),
        )
        for name in answer.results
        for view in VIEWS
    )


def _survey(answer: Answer) -> tuple[Picture, ...]:
    marks = answer.rigging.model.marks
    if not marks.readings:
        return ()
    drafter = drafter_of(answer.rigging, paper=0.185, text=2.6 * MM)
    spots = numbered_spots(marks)
    scene = answer.rigging.rig(BARE).scene
    key = key_drawing([(spot.text, name) for spot, name in zip(spots, marks.names, strict=True)], width=0.150)
    made = []
    for view in MARKED:
        shown = drafter.view(scene, view, spots=spots)
        said = f"marks, {view}; ellipses hold 95 % and are drawn ten times their size"
        made.append(
            Picture(
                name=slug("marks", view), title=said, svg=svg_text(beside(said, [shown, key], down=True), alone=True)
            )
        )
    return tuple(made)


def _shade(answer: Answer) -> tuple[Picture, ...]:
    record = answer.record()
    if not record.get("days"):
        return _matrix(record, "shade_share", name="shade", what="in shade, % of the area")
    asked: Any = answer.top
    hour = np.mod(asked.sun.unix_s / 3600 + np.degrees(asked.sun.longitude) / 15, 24)
    latitude = np.degrees(asked.sun.latitude)
    hours, latitudes = np.unique(hour.round(4)), np.unique(latitude.round(6))
    cell = (np.searchsorted(latitudes, latitude.round(6)), np.searchsorted(hours, hour.round(4)))
    lines: dict[float, list[ShadeLine]] = {float(one): [] for one in latitudes}
    maps: dict[str, list[ShadeMap]] = {}
    for set_name, span in answer.results.items():
        for place, share in zip(span.hours.names, span.hours.share, strict=True):
            if place.endswith(", heads") or place == "sole":
                continue
            mean = _mean(share, cell, (len(latitudes), len(hours)))
            maps.setdefault(set_name, []).append(
                ShadeMap(set_name=set_name, place=place, hour=hours, latitude_deg=latitudes, share=mean)
            )
            for row, one in enumerate(latitudes):
                lines[float(one)].append(ShadeLine(set_name=set_name, place=place, hour=hours, share=mean[row]))
    made = [
        Picture(
            name=slug("shade day", _latitude(one)),
            title=f"shade through the day at {_latitude(one)}",
            svg=_svg(shade_days(lines[one], title=_latitude(one))),
        )
        for one in lines
    ]
    if len(latitudes) >= MAPPED:
        made += [
            Picture(
                name=slug("shade map", name),
                title=f"shade by hour and latitude, {name}",
                svg=_svg(shade_maps(one, title=name)),
            )
            for name, one in maps.items()
        ]
    return tuple(made)


def _mean(share: Floats, cell: tuple[Any, Any], shape: tuple[int, int]) -> Floats:
    """Return the mean over days of values by latitude and hour; nan where the sun is down on all of them."""
    known = np.isfinite(share)
    where = (cell[0][known], cell[1][known])
    total, count = np.zeros(shape), np.zeros(shape)
    np.add.at(total, where, share[known])
    np.add.at(count, where, 1.0)
    return np.where(count > 0, total / np.maximum(count, 1.0), np.nan)


def _latitude(degrees: float) -> str:
    half = "N" if degrees > 0 else "S" if degrees < 0 else ""
    return f"{abs(degrees):.1f}° {half}".replace(".0°", "°").strip()


def _vane(answer: Answer) -> tuple[Picture, ...]:
    record = answer.record()
    close = float(answer.rigging.model.design.sailing.close_hauled_awa)
    made: list[Picture] = []
    for key, what, full in (
        ("clear_share", "share of the blade that sees upwind past everything (rim: all of it)", 1.0),
        ("speed_ratio", "wind speed at the blade against the bare boat's (rim: 1.2)", 1.2),
        ("force_ratio", "force of the wind on the blade against the bare boat's (rim: 1.4)", 1.4),
    ):
        lines = {one["name"]: _rose_line(one, key) for one in record["sets"]}
        known = {name: line for name, line in lines.items() if np.isfinite(line.value).any()}
        bare = known.pop(BARE, None)
        shown = list(known.values()) or ([bare] if bare is not None else [])
        if shown:
            grey = "; grey: bare boat" if bare is not None and known else ""
            figure = roses(
                shown, bare=bare if known else None, what=f"{what}{grey}\nblack ticks: close-hauled", full=full,
                marks=[close], filled=key == "clear_share",
            )  # fmt: skip
            made.append(Picture(name=slug("vane", key), title=f"{what}, by apparent wind angle", svg=_svg(figure)))
    air = air_slices(answer) if answer.top == "flow" else ()
    made += [Picture(name=slug("vane", "air", *at), title=title, svg=_svg(figure)) for at, title, figure in air]
    return tuple(made)


def _rose_line(record: Mapping[str, Any], key: str) -> RoseLine:
    angles = record["angles"]
    low, high = (_column(angles, f"{key}_{end}") for end in ("low", "high"))
    banded = np.isfinite(low).all() and np.isfinite(high).all()
    return RoseLine(
        name=record["name"],
        awa=np.radians(_column(angles, "awa_deg")),
        value=_column(angles, key),
        low=low if banded else None,
        high=high if banded else None,
    )


def _column(rows: Sequence[Mapping[str, Any]], key: str) -> Floats:
    return np.array([np.nan if row.get(key) is None else float(row[key]) for row in rows])


def _rain(answer: Answer) -> tuple[Picture, ...]:
    sets = [one for one in answer.record()["sets"] if one.get("angles")]
    made: list[Picture] = []
    for place in [place["name"] for place in sets[0]["angles"][0]["places"]] if sets else []:
        if place.endswith(", heads") or place == "sole":
            continue
        lines = [_wet_line(one, place) for one in sets]
        bare = next((line for line in lines if line.name == BARE), None)
        rest = [line for line in lines if line.name != BARE] or lines
        grey = "; grey: bare boat" if bare is not None else ""
        what = f"wetted share of {place} (rim: all of it){grey}\nmean over wind speeds; band: least to most"
        title = f"wetted share of {place}, by apparent wind angle"
        made.append(Picture(name=slug("rain", place), title=title, svg=_svg(roses(rest, bare=bare, what=what))))
    return tuple(made)


def _wet_line(one: Mapping[str, Any], place: str) -> RoseLine:
    rows = wetted(one["angles"], place)
    return RoseLine(
        name=one["name"],
        awa=np.radians(_column(rows, "awa_deg")),
        value=_column(rows, "mean"),
        low=_column(rows, "low"),
        high=_column(rows, "high"),
    )


def _loads(answer: Answer) -> tuple[Picture, ...]:
    what = "apparent wind at which it reaches its limit, kn"
    return _ranges(answer, "parts", "limit_aws_kn", what=what, said="weakest parts")


def _life(answer: Answer) -> tuple[Picture, ...]:
    what = "years until it is sewn again or renewed"
    return _ranges(answer, "sewn", "life_years", what=what, said="sewn life")


def _ranges(answer: Answer, rows: str, key: str, *, what: str, said: str) -> tuple[Picture, ...]:
    """Return by set the lowest rows as bars from low to high."""
    low, high = f"{key}_low", f"{key}_high"
    made = []
    for one in answer.record()["sets"]:
        first = sorted(one[rows], key=lambda row: (row[low] is None, row[low] or 0.0))[:20]
        if first:
            figure = bars(
                [row["name"] for row in first], [row[low] for row in first], [row[high] for row in first], what=what
            )
            title = f"{said}, {one['name']}"
            made.append(Picture(name=slug(answer.verb, one["name"]), title=title, svg=_svg(figure)))
    return tuple(made)


def _fit(answer: Answer) -> tuple[Picture, ...]:
    made = []
    for one in answer.record()["sets"]:
        rows = [row for row in one.get("checks") or [] if row["verdict"] in ("fail", "close")]
        rows = [row for row in rows if row.get("margin") is not None and row.get("unit") == "m"]
        rows = sorted(rows, key=lambda row: float(row["margin"]))[:16]
        if rows:
            figure = bars(
                [row["name"] for row in rows], [min(float(row["margin"]), 0.0) for row in rows],
                [max(float(row["margin"]), 0.0) for row in rows], what="margin to its limit, m; below zero it fails",
            )  # fmt: skip
            made.append(Picture(name=slug("fit", one["name"]), title=f"least margins, {one['name']}", svg=_svg(figure)))
    return tuple(made)


def _matrix(record: Mapping[str, Any], key: str, *, name: str, what: str) -> tuple[Picture, ...]:
    sets = [one for one in record["sets"] if one.get("places")]
    if not sets:
        return ()
    places = [place["name"] for place in sets[0]["places"]]
    share = np.array([_column(one["places"], key) for one in sets]).T
    figure = matrix(places, [one["name"] for one in sets], share, what=what)
    return (Picture(name=slug(name), title=what, svg=_svg(figure)),)


def _rolls(answer: Answer) -> tuple[Picture, ...]:
    results = [one for one in (answer.top, *answer.results.values()) if isinstance(one, CutResult)]
    design = answer.rigging.model.design
    names = [panel.name for panel in design.panel]
    return tuple(
        Picture(
            name=slug("roll", roll.cloth),
            title=f"parts of {roll.cloth} on the roll",
            svg=svg_text(roll_drawing(cut, roll, paper=0.150, units=design.units, panels=names), alone=True),
        )
        for cut in results[:1]
        for roll in cut.rolls
    )


def _passage(answer: Answer) -> tuple[Picture, ...]:
    record = answer.record()
    return (
        *_matrix(record, "shade_share", name="passage shade", what="in shade while the sun is up, % of the hours"),
        *_matrix(record, "rain_reaches_share", name="passage rain", what="reached by rain were it raining, % of hours"),
    )


def _compare(answer: Answer) -> tuple[Picture, ...]:
    made = []
    for one in answer.record()["sets"]:
        rows = [row for row in one["rows"] if row["unit"].startswith("share")]
        share = np.array([_column(row["values"], "value") for row in rows])
        labels = [column["name"] for column in one["columns"]]
        what = "shares, %; more is better"
        figure = matrix([row["measure"] for row in rows], labels, share, what=what)
        made.append(Picture(name=slug("compare", one["name"]), title=f"{one['name']}: {what}", svg=_svg(figure)))
    return tuple(made)


MEASURED = ("shade_share", "dry_share", "speed_ratio", "cloth_m2", "headroom_m")


def _scale(key: str) -> float:
    """Return what a value is drawn times: shares in per cent, as `head` says."""
    return 100.0 if head_of(key).share else 1.0


def _sweep(answer: Answer) -> tuple[Picture, ...]:
    numbers = [f"{one.name}, {one.unit}" if one.unit else one.name for one in answer.top.varies]
    made = []
    for one in answer.record()["sets"]:
        groups: dict[str, list[Any]] = {}
        least = {effect.measure: effect.least for effect in answer.results[one["name"]].effects}
        for row in one["variants"]:
            groups.setdefault(row["values"][-1]["said"] if len(numbers) > 1 else one["name"], []).append(row)
        chosen = [list(groups)[k] for k in np.unique(np.linspace(0, len(groups) - 1, 8).astype(int))]
        plots = [
            (
                head(key),
                [
                    Series(
                        name=name,
                        number=np.array([row["values"][0]["value"] for row in groups[name]]),
                        value=_column(groups[name], key) * _scale(key),
                    )
                    for name in chosen
                ],
                2 * least.get(key, 0.0) * _scale(key),
            )
            for key in MEASURED
        ]
        figure = sweep_lines(plots, numbers=numbers)
        made.append(Picture(name=slug("sweep", one["name"]), title=f"{one['name']}, variants", svg=_svg(figure)))
    return tuple(made)


def _search(answer: Answer) -> tuple[Picture, ...]:
    record = answer.record()
    (one,) = record["sets"]
    first, last = record["aims"][0], record["aims"][-1]
    points = np.stack([_column(one["variants"], key) * _scale(key) for key in (last, first)], axis=1)
    (found,) = answer.results.values()
    numbers = [row["file"].removeprefix("front-").removesuffix(".toml") for row in one["front"]]
    figure = trade_off(points, front=found.front, names=numbers, axes_said=(head(last), head(first)))
    return (Picture(name=slug("front", one["name"]), title=f"{one['name']}, trade-offs", svg=_svg(figure)),)


def _svg(figure: Any) -> str:
    return picture(figure, "svg").decode("utf-8")


PICTURES: Mapping[str, Callable[[Answer], tuple[Picture, ...]]] = {
    "check": _views,
    "survey": _survey,
    "shade": _shade,
    "rain": _rain,
    "vane": _vane,
    "fit": _fit,
    "loads": _loads,
    "life": _life,
    "passage": _passage,
    "compare": _compare,
    "sweep": _sweep,
    "search": _search,
    "cut": _rolls,
    "buy": _rolls,
}
