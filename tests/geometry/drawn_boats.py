"""Draw boats at random for the property tests: any shape the design file can say, kept where no shape is impossible."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from canvas.design.schema.design import Design
from canvas.geometry.boat import solid_problems


def drawn_boats(count: int, *, seed: int) -> Iterator[Design]:
    """Yield `count` valid designs; drawing again where a shape is impossible, at most four times as often as not."""
    rng = np.random.default_rng(seed)
    kept = tries = 0
    while kept < count:
        tries += 1
        assert tries <= 4 * count + 40, "the draws are nearly all impossible: mend the generator"
        design = Design.model_validate(_boat(rng), context={"units": "m"})
        if not solid_problems(design):
            kept += 1
            yield design


def _boat(rng: np.random.Generator) -> dict[str, Any]:
    draw = rng.uniform
    size = draw(8.0, 14.0) / 11
    centre = rng.random() < 0.3
    half = draw(1.45, 1.9) * size**0.8
    before, after = draw(5.5, 8.0) * size, (draw(5.0, 7.0) if centre else draw(2.2, 3.6)) * size
    edge = _edge(rng, before=before, after=after, half=half)
    deck = float(np.interp(0.0, [p[0] for p in edge], [p[2] for p in edge]))
    narrow = min(float(np.interp(after * 0.6, [p[0] for p in edge], [p[1] for p in edge])), half) - 0.05
    bridge = rng.random() < 0.6
    open_stern = not centre and rng.random() < 0.15
    length = after if open_stern else after * (draw(0.3, 0.45) if centre else draw(0.6, 0.92))
    sill = draw(0.25, deck + 0.1)
    front_width, aft_width = half * draw(0.5, 0.9), half * draw(1.0, 1.35)
    boat: dict[str, Any] = {
        "name": "drawn", "units": "m",
        "hull": {
            "deck_edge": edge,
            "waterline": draw(-0.9, -0.2),
            "flare": float(np.radians(draw(-4, 16))),
            "transom_rake": float(np.radians(draw(-35, 35))),
        },
        "cabin": {
            "front": -draw(0.3, 0.6) * before, "front_width": front_width, "front_height": deck + draw(0.25, 0.6),
            "aft_width": aft_width, "aft_height": deck + draw(0.3, 0.7), "camber": rng.choice([0.0, draw(0.02, 0.2)]),
            "companionway": {
                "offset": rng.choice([0.0, draw(-0.15, 0.15)]), "width": draw(0.45, 0.75), "sill": sill,
                "top": sill + draw(0.3, 0.7),
            },
            "bridge_deck": {"length": draw(0.2, 0.6), "height": draw(0.15, max(sill, 0.16))} if bridge else None,
        },
        "cockpit": {
            "length": length, "sole_width": draw(0.5, 0.9),
            "sole_slope": rng.choice([0.0, float(np.radians(draw(-1, 3)))]),
            "aft_deck": 0.0 if open_stern else rng.choice([deck + draw(-0.15, 0.35), deck]),
            "port": _side(rng, length=length, room=narrow, deck=deck),
            "starboard": _side(rng, length=length, room=narrow, deck=deck),
        },
        "spars": {"mast": {"x": -draw(2.5, 3.5) * size, "top": draw(10, 16)}},
        "steering": {"tiller": {"head": [length, 0.0, 0.7], "length": draw(0.8, 1.4), "end_height": draw(0.6, 0.9)}},
        "vane": {
            "kind": "trim tab", "foot": [after + 0.3, 0.0, 1.4], "height": 0.8, "width": 0.2, "axis": "upright",
            "steers_from": "6 kn",
        },
        "crew": [{"name": "one", "stature": 1.7}],
    }  # fmt: skip
    if rng.random() < 0.4:
        boat["cockpit"]["starboard"] = dict(boat["cockpit"]["port"])
    if rng.random() < 0.4:
        boat["hull"]["deck_edge_port"] = _other_side(rng, edge)
    if not open_stern and rng.random() < 0.5:
        boat["cockpit"] |= {"helm_seat": draw(0.25, 0.5), "helm_seat_height": draw(0.3, 0.55)}
    return _plain(boat)


def _edge(rng: np.random.Generator, *, before: float, after: float, half: float) -> list[list[float]]:
    """Return a deck edge from a pointed or blunt stem to a transom, sometimes a pointed stern."""
    inner = np.sort(rng.uniform(0.06, 0.94, rng.integers(3, 9)))
    share = np.concatenate([[0.0], inner[np.diff(inner, prepend=-1.0) > 0.02], [1.0]])
    middle = before / (before + after)
    fore = np.clip(share / middle, 0, 1)
    aft = np.clip((share - middle) / (1 - middle), 0, 1)
    stern = rng.choice([rng.uniform(0.55, 0.95), 0.0], p=[0.9, 0.1])
    fineness = rng.uniform(1.6, 2.6)
    width = half * (1 - (1 - fore) ** fineness) * (1 - (1 - stern) * aft**2.5)
    width[0] = rng.choice([0.0, 0.15])
    sheer = rng.uniform(0.4, 0.7) + rng.uniform(0.2, 0.5) * (1 - fore) ** 2 + rng.uniform(-0.05, 0.2) * aft**2
    return [
        [float(x), float(y), float(z)] for x, y, z in zip(share * (before + after) - before, width, sheer, strict=True)
    ]


def _other_side(rng: np.random.Generator, edge: list[list[float]]) -> list[list[float]]:
    """Return the port deck edge: a little fuller or finer, a little higher or lower, its stations elsewhere."""
    wider, higher = rng.uniform(0.98, 1.02), rng.uniform(-0.02, 0.02)
    moved = [[x + rng.uniform(-0.05, 0.05), -y * wider, z + higher] for x, y, z in edge]
    return [[edge[0][0], *moved[0][1:]], *moved[1:-1], [edge[-1][0], *moved[-1][1:]]]


def _side(rng: np.random.Generator, *, length: float, room: float, deck: float) -> dict[str, float]:
    coaming = rng.uniform(0.05, 0.25)
    outer = rng.uniform(0.62, max(0.64, room - coaming))
    seat_from, height = rng.uniform(0.0, 0.3) * length, rng.uniform(0.25, 0.6)
    return {
        "seat_from": seat_from,
        "seat_to": rng.choice([length, seat_from + rng.uniform(0.3, 0.7) * length]),
        "seat_inner": rng.uniform(0.2, 0.45),
        "seat_outer": outer,
        "seat_height": height,
        "coaming_from": rng.choice([0.0, rng.uniform(0.0, 0.2) * length]),
        "coaming_to": length * rng.choice([1.0, rng.uniform(0.8, 1.1)]),
        "coaming_top": max(deck, height) + rng.uniform(-0.05, 0.4),
        "coaming_width": coaming,
    }


def _plain(value: Any) -> Any:
    """Return the value with its numbers plain, and without keys that say nothing."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items() if inner is not None}
    return value.item() if isinstance(value, np.generic) else value
