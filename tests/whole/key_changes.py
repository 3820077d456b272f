"""Say how each key of the design file can be changed, for the test that every key moves some result.

A key is named by its path without places in lists, readings by their kind as well: ``reading.tape.length``.
"""

import re
import tomllib
from pathlib import Path
from typing import Literal, get_args, get_origin

from canvas.design.positions import key_lines
from canvas.design.schema.design import Design
from canvas.design.schema.keys import _describes, _key, _models_in

HERE = Path(__file__).parent
TEXT = (HERE / "every_key.toml").read_text(encoding="utf-8")
DATA = tomllib.loads(TEXT)
OWN_KEYS = {"marks", "prices.cloth", "prices.fastening", "shop.allowance"}  # tables with names of the user's own
TILLER = (
    '[steering]\ntiller = { head = ["2.84 m", "0 m", "0.68 m"], length = "1.90 m", end_height = "0.80 m", '
    'sweep = "30 deg" }\n'
)
TILLED = re.sub(r"(?s)\[steering\]\n.*?\n\n", TILLER + "\n", TEXT, count=1)
LEAN = re.sub(  # without the harbour canvas, for keys of other parts: cut twice as fast
    r'(?s)\[\[set\]\]\nname = "harbour".*?\n\n', "",
    re.sub(r'(?s)\[\[panel\]\]\nname = "side cloth".*?(?=\[\[set\]\])', "", TEXT, count=1), count=1,
).replace('panel = "awning"', 'panel = "spray hood"')  # fmt: skip
PLAIN = re.sub(  # without readings too: marks as they stand, the tent as designed
    r'\w+ = "survey"\n', "",
    re.sub(r"(?s)\[survey\]\n.*?\n\n", "", re.sub(r"(?s)\nreading = \[.*?\n\]\n", "\n", LEAN, count=1), count=1),
)  # fmt: skip
# What a thing is: another kind has other keys, so that it cannot be changed alone.
STRUCTURE = {"reading": "kind", "solid": "kind"}
CANVAS = {"cloth", "tube", "panel", "set", "prices", "shop"}

# Keys that name something else, or take words: where to change them (the first such place where only a value stands).
ABOVE = max(place for place, one in enumerate(DATA["reading"]) if one["kind"] == "above")
NAMED = {
    "vane.kind": "trim tab", "vane.steers_from_with": "wet watch", "crew.at": "helm", "solid.sets": ["bare"],
    "solid.file": "block.stl", "sail.sets": ["spray hood"],
    "cloth.like": "awning cloth 200", "cloth.kind": "mesh",
    "survey.held": ["datum_fore", "datum_aft", "datum_stbd", "datum_high"],
    "cloth.strain_limit": "0.01 %", "vane.must_steer_from": "5.7 kn",
    "vane.lines": (("vane", "lines", 2), ["1.60 m", "0.50 m", "0.85 m"]),
    "spars.mizzen.boom.sheet_at": ["1.60 m", "0.60 m", "1.00 m"],
    "reading.tape.from": (("reading", 5, "from"), "datum_stbd"),
    "reading.tape.to": (("reading", 0, "to"), "loose_b"),
    "reading.tape.via": ["loose_c"], "reading.level.at": (("reading", 17, "at"), "datum_stbd"),
    "reading.level.session": "ashore", "reading.offset.at": "loose_b", "reading.place.at": "loose_b",
    "reading.offset.from": "datum_port",
    "reading.plumb.from": "loose_b", "reading.plumb.to": "datum_fore", "reading.plumb.session": "ashore",
    "reading.plumb.toward": "starboard",
    "reading.on straight.marks": ["datum_fore", "datum_middle", "datum_aft", "loose_c"],
    "reading.in plane.marks": ["datum_port", "datum_stbd", "loose_plane", "datum_aft", "loose_b"],
    "reading.above.at": "datum_fore", "reading.above.below": (("reading", ABOVE, "below"), "datum_high"),
    "reading.tape.panel": "spray hood", "reading.level.panel": "spray hood", "reading.offset.panel": "spray hood",
    "reading.plumb.panel": "spray hood", "reading.meter.set": "wet watch", "reading.ribbon.set": "wet watch",
    "tube.kind": (("tube", 3, "kind"), "wire"), "tube.start": (("tube", 2, "start"), ["1.05 m", "0.00 m", "0.02 m"]),
    "tube.end": (("tube", 2, "end"), ["1.10 m", "0.05 m", "2.00 m"]),
    "panel.cloth": (("panel", 1, "cloth"), "acrylic 300"), "panel.cut_in": (("panel", 1, "cut_in"), "wet watch, airy"),
    "panel.edges.along": (("panel", 0, "edges", 0, "along"), "ridge rail"),
    "panel.edges.edge": (("panel", 1, "edges", 0, "edge"), "port"),
    "panel.edges.from": (("panel", 1, "edges", 0, "from"), "hood_foot_port"),
    "panel.edges.to": (("panel", 1, "edges", 1, "to"), "stay_low"),
    "panel.edges.finish": (("panel", 1, "edges", 3, "finish"), "hem"), "panel.over": [],
    "panel.edges.wire": (("panel", 2, "edges", 0, "wire"), True, TEXT), "panel.edges.zip.length": "1.10 m",
    "panel.pierced.by": "spray hood front line",
    "panel.pierced.slit_to": "port", "panel.ties.at": ["1.43 m", "-0.60 m", "1.02 m"], "panel.ties.kind": "lashing",
    "panel.inserts.cloth": "shade mesh 90", "set.used": (("set", 1, "used"), ["at anchor"]),
    "set.up.panel": (
        ("set", 3, "up", 1, "panel"), "spray hood", TEXT.replace(', zip = "open 30 %", zip_edge = "forward"', ""),
    ),
    "set.up.zip_edge": (("set", 3, "up", 1, "zip_edge"), "top", TEXT), "passage.legs.set": "wet watch",
    "set.up.zip": "open 70 %", "panel.seams.at": ["1.0 m", "-0.05 m", "1.60 m"],
    "panel.seams.from": ["0.60 m", "-0.30 m", "1.68 m"], "panel.seams.to": ["1.38 m", "-0.20 m", "1.08 m"],
    "panel.seams.through": [["1.00 m", "-0.22 m", "1.62 m"]],
    "panel.darts.edge": "port",
}  # fmt: skip


def leaves(model=Design, path=()):
    """Yield every key of the file that is no record itself: its name, its field."""
    for name, field in model.model_fields.items():
        if _describes(field):
            continue
        here = (*path, _key(name, field))
        below = _models_in(field.annotation)
        if not below:
            yield ".".join(here), field
        for part in below:
            kind = get_args(part.model_fields["kind"].annotation)[0] if len(below) > 1 else None
            yield from leaves(part, here if kind is None else (*here, kind))


def name_of(path):
    """Return the name of the key at a path of the file."""
    words = [part for part in path if isinstance(part, str)]
    if path[0] == "reading" and len(path) > 2:
        words.insert(1, DATA["reading"][path[1]]["kind"])
    joined = ".".join(words)
    return next((own for own in OWN_KEYS if joined.startswith(f"{own}.")), joined)


def value_at(path, data=None):
    here = DATA if data is None else data
    for part in path:
        here = here[part]
    return here


def places():
    """Return where each key of the file first stands, by name; a list of values stands where the list does."""
    found = {}
    for text in (PLAIN, LEAN, TEXT, TILLED):
        data = tomllib.loads(text)
        for path in key_lines(text):
            if not path or isinstance(path[-1], int) or isinstance(value_at(path, data), dict):
                continue
            found.setdefault(name_of(path), (path, text))
    return found


def options(annotation):
    """Return the words that a field may hold."""
    if get_origin(annotation) is Literal:
        return list(get_args(annotation))
    return [word for part in get_args(annotation) for word in options(part)]


def nudged(value):
    """Return changed values for a quantity, the likeliest to be accepted first."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1, value - 1]
    if isinstance(value, float):
        return [value * 1.05, value * 0.95]
    if isinstance(value, list):
        return [[*value[:k], one, *value[k + 1 :]] for k in range(len(value)) for one in nudged(value[k])]
    number = re.match(r"-?\d+(?:\.\d+)?", value)
    if number is None:
        return []
    here = float(number.group())
    step = max(abs(here) * 0.04, 1.0 if "mm" in value or "deg" in value or "%" in value else 0.02)
    return [f"{one:.6g}{value[number.end() :]}" for one in (here + step, here - step)]


def changes(name, field):
    """Return (text, path, value) of the ways in which a key can be changed, to be tried in order."""
    path, text = places()[name]
    if name == "vane.axis":  # an upright axis has no tilt
        text = text.replace('axis_tilt = "20 deg"\n', "")
    if name == "cloth.like":  # where a cloth says all itself, it is like nothing
        text = text.replace('mass = "310 g/m2"\n', "")
    if name == "panel.inserts.rolls_up":
        text = text.replace('window = "rolled up", ', "")
    if name in NAMED:
        given = NAMED[name]
        at, value, whole = (*given, text)[:3] if isinstance(given, tuple) else (path, given, text)
        return [(whole, at, value)]
    value = value_at(path, tomllib.loads(text))
    words = [word for word in options(field.annotation) if isinstance(value, str) and word != value]
    if words and value not in options(field.annotation):
        words = []
    return [(text, path, one) for one in (words or nudged(value))]


def changeable(keys, *, canvas):
    """Return the keys that can be changed alone: those of canvas and what holds it, or all others."""
    alone = [name for name in keys if STRUCTURE.get(name.partition(".")[0]) != name.rpartition(".")[2]]
    return [name for name in alone if (name.partition(".")[0] in CANVAS) == canvas]
