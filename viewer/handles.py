"""Name the numbers of a design that can be taken hold of, and put them back changed.

Computes: for a panel, tube, mark or set, its handles: what it is, its value in the design's own unit, how far it goes.
Units: the design's own for lengths, degrees for angles, per cent for shares.
Source: none.
Limits: marks left to the survey have no handles; what a value may be is decided when the design is built again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from canvas.cloth.rigging import Rigging
from canvas.design import units
from canvas.design.editing import Draft
from canvas.design.problems import DesignError
from canvas.design.schema.rig import Panel

Path = tuple[str | int, ...]
REACH = 0.6  # how far either way a length can be dragged [m]
STEPS: Mapping[str, float] = {"m": 0.005, "mm": 5.0, "ft": 0.02, "in": 0.25}
AXES = ("fore and aft", "athwart", "height")


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """One number that can be changed.

    Attributes
    ----------
    label : str
    kind : str
        ``length``, ``angle``, ``share``, ``choice`` or ``switch``.
    value : float or str or bool
        In the unit shown.
    paths : tuple of path
        Where it stands in the file; a length with several moves them all by as much.
    low, high, step : float
    unit : str
    choices : tuple of str
    """

    label: str
    kind: str
    value: float | str | bool
    paths: tuple[Path, ...]
    low: float = 0.0
    high: float = 1.0
    step: float = 0.01
    unit: str = ""
    choices: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the handle for the page."""
        found = asdict(self)
        del found["paths"]
        return found


def parts_of(rigging: Rigging) -> list[dict[str, str]]:
    """Return what can be taken hold of, with a key each: panels, tubes, marks."""
    design = rigging.model.design
    found = [
        {"key": f"panel:{n}", "kind": "panels", "name": panel.name + (" (aboard)" if panel.existing else "")}
        for n, panel in enumerate(design.panel)
    ]
    listed = (
        ("tube", "hoops and rails", [one.name for one in design.tube]),
        ("solid", "solids", [one.name for one in design.solid]),
        ("set", "sets", [one.name for one in design.set]),
    )
    for key, kind, names in listed:
        found += [{"key": f"{key}:{n}", "kind": kind, "name": name} for n, name in enumerate(names)]
    return found + [{"key": f"marks:{name}", "kind": "marks", "name": name} for name in design.marks]


def first_part(rigging: Rigging, set_name: str) -> str:
    """Return the part to begin with: new canvas that is up in the set shown, else canvas that is up, else any."""
    design = rigging.model.design
    up = [entry.panel for entry in design.panels_up(set_name)]
    ranked = sorted(range(len(design.panel)), key=lambda n: (design.panel[n].name not in up, design.panel[n].existing))
    return f"panel:{ranked[0]}" if ranked else parts_of(rigging)[0]["key"]


def name_of(rigging: Rigging, key: str) -> str | None:
    """Return the name of a part as the picture knows it; None for what it does not show."""
    kind, _, which = key.partition(":")
    design = rigging.model.design
    listed = {
        "panel": [one.name for one in design.panel],
        "tube": [one.name for one in design.tube],
        "solid": [one.name for one in design.solid],
    }
    names = listed.get(kind, [])
    return names[int(which)] if names and int(which) < len(names) else None


def part_named(rigging: Rigging, name: str) -> str | None:
    """Return the key of the panel or tube of a name, as the picture knows it."""
    plain = name.partition(": ")[0]
    for part in parts_of(rigging):
        if part["name"].removesuffix(" (aboard)") == plain:
            return part["key"]
    return None


def handles_of(draft: Draft, rigging: Rigging, key: str) -> list[Handle]:
    """Return the handles of a part."""
    kind, _, which = key.partition(":")
    design = rigging.model.design
    unit = str(draft.value(("units",)))
    if kind == "panel" and int(which) < len(design.panel):
        return _of_panel(draft, rigging, int(which), unit)
    if kind == "tube" and int(which) < len(design.tube):
        return _of_tube(draft, rigging, int(which), unit)
    if kind == "solid" and int(which) < len(design.solid):
        return _of_solid(draft, int(which), unit)
    if kind == "marks" and which in design.marks and isinstance(draft.value(("marks", which)), list):
        return [_length(draft, f"{which}: {axis}", (("marks", which, n),), unit) for n, axis in enumerate(AXES)]
    return []


def _of_panel(draft: Draft, rigging: Rigging, number: int, unit: str) -> list[Handle]:
    design = rigging.model.design
    panel = design.panel[number]
    found: list[Handle] = []
    for at, edge in enumerate(panel.edges):
        path: Path = ("panel", number, "edges", at)
        name = edge.name or f"edge {at + 1}"
        if edge.along is None:
            ends = [end for end in _ends(panel, at) if isinstance(draft.value(("marks", end)), list)]
            if len(ends) == 2:
                found += [
                    _length(draft, f"{name}: {what} of both ends", tuple(("marks", end, axis) for end in ends), unit)
                    for axis, what in ((2, "height"), (0, "fore and aft"))
                ]
        if edge.batten_bow is not None:
            found.append(
                _plain_length(f"{name}: batten bow", float(edge.batten_bow), (*path, "batten_bow"), unit, most=0.35)
            )
        elif edge.hollow is not None:
            found.append(_hollow(draft, f"{name}: hollow", (*path, "hollow"), unit))
    found += _of_ties(draft, panel, number, unit)
    found += _of_cloths(draft, rigging, number)
    if not panel.existing:
        found.append(
            Handle(
                label="cloth", kind="choice", value=panel.cloth or "", paths=(("panel", number, "cloth"),),
                choices=tuple(design.cloths()),
            )
        )  # fmt: skip
    return found


def _of_ties(draft: Draft, panel: Panel, number: int, unit: str) -> list[Handle]:
    """Return the heights at which ties hold, where a mark or a point of their own gives them."""
    found = []
    for at, tie in enumerate(panel.ties):
        own: Path = ("panel", number, "ties", at, "at")
        path: Path = ("marks", tie.at) if isinstance(tie.at, str) else own
        name = tie.at if isinstance(tie.at, str) else f"tie {at + 1}"
        if isinstance(draft.value(path), list):
            found.append(_length(draft, f"{name}: height of the tie", ((*path, 2),), unit))
    return found


def _of_cloths(draft: Draft, rigging: Rigging, number: int) -> list[Handle]:
    """Return how open the mesh of a panel and of its windows is, and what it takes from the wind."""
    design = rigging.model.design
    panel, known = design.panel[number], rigging.model.design.cloths()
    spots: list[tuple[str, Path, str | None]] = [("", ("panel", number, "cloth"), panel.cloth)]
    spots += [
        (f"{one.name}: ", ("panel", number, "inserts", n, "cloth"), one.cloth) for n, one in enumerate(panel.inserts)
    ]
    found = []
    for said, path, cloth in spots:
        if cloth is None or known[cloth].kind != "mesh":
            continue
        share, loss = 100 * known[cloth].light_through, float(known[cloth].wind_loss)
        found.append(
            Handle(
                label=f"{said}openness of the mesh", kind="openness", value=round(share, 1), paths=(path,), high=80.0,
                low=1.0, step=1.0, unit="%",
            )
        )  # fmt: skip
        found.append(
            Handle(
                label=f"{said}what the mesh takes from the wind (loss)", kind="loss", value=round(loss, 2),
                paths=(path,), low=0.2, high=40.0, step=0.2,
            )
        )  # fmt: skip
    return found


def _own_mesh(draft: Draft, path: Path) -> Path:
    """Return where the cloth at a path stands as one of the design's own; it is made one where it is not."""
    name = str(draft.value(path))
    own = [str(one["name"]) for one in _listed(draft, ("cloth",))]
    if name not in own:
        fresh = f"{name}, own"
        if fresh not in own:
            draft.append(("cloth",), {"name": fresh, "kind": "mesh", "like": name})
            own.append(fresh)
        draft.set(path, fresh)
        name = fresh
    return ("cloth", own.index(name))


def _listed(draft: Draft, path: Path) -> list[Any]:
    try:
        return list(draft.value(path))
    except DesignError:
        return []


def _of_solid(draft: Draft, number: int, unit: str) -> list[Handle]:
    ends = tuple(f"other end: {axis}" for axis in AXES)
    found = []
    for key, names in (("at", AXES), ("to", ends), ("size", ("length", "width", "height"))):
        path: Path = ("solid", number, key)
        if isinstance(_given(draft, path), list):
            found += [_length(draft, what, ((*path, n),), unit) for n, what in enumerate(names)]
    across: Path = ("solid", number, "diameter")
    if _given(draft, across) is not None:
        found.append(_length(draft, "diameter", (across,), unit))
    return found


def _given(draft: Draft, path: Path) -> Any:
    try:
        return draft.value(path)
    except DesignError:
        return None


def _hollow(draft: Draft, label: str, path: Path, unit: str) -> Handle:
    """Return the handle of a hollow, as a share of its chord or as a length, as the file has it."""
    share = _hollow_share(draft.value(path))
    if share is None:
        return _plain_length(label, float(units.length(draft.value(path), bare=unit)), path, unit, most=0.4)
    return Handle(label=label, kind="share", value=round(100 * share, 2), paths=(path,), high=15.0, step=0.5, unit="%")


def _ends(panel: Panel, at: int) -> list[str]:
    """Return the marks at the two ends of a free edge."""
    before = panel.edges[at - 1]
    spots = [before.to if before.along is None else None, panel.edges[at].to]
    return [spot for spot in spots if isinstance(spot, str)]


def _of_tube(draft: Draft, rigging: Rigging, number: int, unit: str) -> list[Handle]:
    tube = rigging.model.design.tube[number]
    found = []
    if tube.kind == "hoop" and tube.crown is not None:
        path: Path = ("tube", number)
        found.append(
            Handle(
                label="rake", kind="angle", value=round(float(np.degrees(tube.rake)), 2), paths=((*path, "rake"),),
                low=-80.0, high=80.0, step=1.0, unit="°",
            )
        )  # fmt: skip
        found.append(_length(draft, "crown", ((*path, "crown"),), unit))
        if tube.top_width is not None:
            found.append(_length(draft, "width at the top", ((*path, "top_width"),), unit))
        found.append(_plain_length("camber of the top", float(tube.camber), (*path, "camber"), unit, most=0.4))
    return found


def _length(draft: Draft, label: str, paths: tuple[Path, ...], unit: str) -> Handle:
    scale = units.LENGTHS[unit]
    metres = float(np.mean([units.length(draft.value(path), bare=unit) for path in paths]))
    middle = metres / scale
    return Handle(
        label=label, kind="length", value=round(middle, 4), paths=paths, low=round(middle - REACH / scale, 3),
        high=round(middle + REACH / scale, 3), step=STEPS[unit], unit=unit,
    )  # fmt: skip


def _plain_length(label: str, metres: float, path: Path, unit: str, *, most: float) -> Handle:
    scale = units.LENGTHS[unit]
    return Handle(
        label=label, kind="length", value=round(metres / scale, 4), paths=(path,), high=round(most / scale, 3),
        step=STEPS[unit], unit=unit,
    )  # fmt: skip


def _hollow_share(found: Any) -> float | None:
    """Return a hollow given as a share of the chord; None for one given as a length."""
    text = str(found).strip()
    return float(text.rstrip("% ")) / 100 if text.endswith("%") else None


def put(draft: Draft, handle: Handle, value: float | str) -> None:
    """Write a handle's new value into the draft, in the design's own unit."""
    unit = str(draft.value(("units",)))
    if handle.kind == "length":
        shift = (float(value) - float(handle.value)) * units.LENGTHS[unit]
        for path in handle.paths:
            draft.set_length(path, _metres(draft, path, unit) + shift)
    elif handle.kind == "angle":
        draft.set(handle.paths[0], f"{float(value):g} deg")
    elif handle.kind == "share":
        draft.set(handle.paths[0], f"{float(value):g} %")
    elif handle.kind == "openness":
        mesh = _own_mesh(draft, handle.paths[0])
        for key in ("light_through", "uv_through"):
            draft.set((*mesh, key), round(float(value) / 100, 4))
    elif handle.kind == "loss":
        draft.set((*_own_mesh(draft, handle.paths[0]), "wind_loss"), float(value))
    else:
        draft.set(handle.paths[0], value)


def _metres(draft: Draft, path: Path, unit: str) -> float:
    return float(units.length(draft.value(path), bare=unit))


@dataclass(frozen=True, slots=True, kw_only=True)
class UpState:
    """How a panel is up in a set.

    Attributes
    ----------
    up, rolled : bool
        Up at all; with its window rolled up.
    zip_open : float
        Share of its zip that is open.
    """

    up: bool
    rolled: bool = False
    zip_open: float = 0.0


def sets_of(rigging: Rigging, set_name: str) -> list[dict[str, Any]]:
    """Return every panel with whether it is up in a set, its window and zip, for switches."""
    design = rigging.model.design
    ups = {up.panel: up for up in design.panels_up(set_name)}
    return [
        {
            "name": panel.name,
            "up": panel.name in ups,
            "rolls": any(insert.rolls_up for insert in panel.inserts),
            "rolled": panel.name in ups and ups[panel.name].window == "rolled up",
            "zips": any((edge.finish or "").startswith("zip") for edge in panel.edges),
            "open": round(100 * float(ups[panel.name].zip)) if panel.name in ups else 0,
        }
        for panel in design.panel
    ]


def put_up(draft: Draft, rigging: Rigging, set_name: str, panel: str, state: UpState) -> None:
    """Put a panel up in a set, or take it down, roll its window, open its zip."""
    names = [one.name for one in rigging.model.design.set]
    path: Path = ("set", names.index(set_name), "up")
    listed = [one if isinstance(one, dict) else {"panel": one} for one in _listed(draft, path)]
    here = next((one for one in listed if one["panel"] == panel), None)
    if not state.up:
        listed = [one for one in listed if one["panel"] != panel]
    else:
        if here is None:
            here = {"panel": panel}
            listed.append(here)
        wanted = {"window": "rolled up" if state.rolled else None}
        wanted["zip"] = f"open {100 * state.zip_open:.0f} %" if state.zip_open > 0 else None
        for key, value in wanted.items():
            here.pop(key, None)
            if value is not None:
                here[key] = value
    draft.set(path, [one["panel"] if len(one) == 1 else one for one in listed])
