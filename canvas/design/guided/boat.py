"""Write the design of a boat from the answers of the guided start: complete, commented, ready for every verb.

Computes: the text of a design file.
Units: SI in; lengths in the unit the crew measures in.
Source: proportions in `canvas.design.guided.shape`, common practice, no source.
Limits: what was not asked for is a guess and is listed under `assumed`; readings and measured marks replace it later.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import tomlkit

from canvas.design import units
from canvas.design.guided.questions import COAMING, Answers, complete, number
from canvas.design.guided.shape import Bow, Shape, Vector, shape_of

GUESSED = (
    "hull", "cabin", "cockpit.aft_deck", "spars", "steering", "vane.width", "winch", "sail", "outlet", "marks", "tube",
)  # fmt: skip


def design_text(answers: Answers) -> str:
    """Return the text of a complete design.

    Parameters
    ----------
    answers : mapping of str to float or str
        SI, by the keys of `canvas.design.guided.questions.questions`; what is missing takes its usual value.
    """
    writer = _Writer(complete(answers))
    parts = [
        writer.head(), writer.hull(), writer.cockpit(), writer.rig(), writer.vane(), writer.crew(), writer.fittings(),
        writer.marks(), writer.tubes(), writer.panels(), writer.sets(),
    ]  # fmt: skip
    return "\n".join(parts)


class _Writer:
    """Writes the parts of a design file, lengths in the crew's own unit."""

    def __init__(self, said: Answers) -> None:
        self.said = said
        self.shape: Shape = shape_of(said)
        self.unit = str(said["units"])

    def length(self, metres: float) -> str:
        """Return a guessed length, rounded so that it looks like one."""
        step = 0.005 if self.unit in ("m", "mm") else units.INCH / 4
        return f'"{units.length_text(round(metres / step) * step, self.unit)}"'

    def asked(self, key: str) -> str:
        """Return a length as it was answered."""
        return self.exact(number(self.said, key))

    def exact(self, metres: float) -> str:
        """Return a length that follows from an answer."""
        return f'"{units.length_text(metres, self.unit)}"'

    def point(self, point: Iterable[float]) -> str:
        return f"[{', '.join(self.length(part) for part in point)}]"

    def head(self) -> str:
        name = tomlkit.string(str(self.said["name"])).as_string()
        guessed = ", ".join(f'"{part}"' for part in GUESSED)
        return f"""\
# A first design from a few numbers. What was asked for is yours; the rest is guessed from boats of this size and listed
# under `assumed`. Measure, put your own numbers in, and take each part off that list.
#
# Axes: aft from the aft face of the companionway bulkhead on the centreline, to starboard, up from the cockpit sole
# there. Port mirrors starboard here; on a real boat it does not.

name = {name}
units = "{self.unit}"                          # what a bare number means
revision = "A"
assumed = [{guessed}]
"""

    def hull(self) -> str:
        shape = self.shape
        edge = "".join(f"  {self.point(point)},\n" for point in shape.deck_edge)
        return f"""\
[hull]
deck_edge = [                        # starboard, from the stem to the transom
{edge}]
waterline = {self.exact(shape.waterline)}              # the water at rest, from the cockpit sole

[cabin]
front = {self.length(shape.cabin_front)}
front_width = {self.length(0.36 * number(self.said, "beam"))}
front_height = {self.length(shape.cabin_height - 0.06)}
aft_width = {self.length(shape.cabin_aft_width)}
aft_height = {self.length(shape.cabin_height)}

[cabin.companionway]
width = {self.length(min(0.60, shape.cabin_aft_width - 0.2))}
sill = {self.length(number(self.said, "seat_height") + 0.08)}
top = {self.length(shape.cabin_height)}

[cabin.bridge_deck]
length = {self.length(shape.bridge)}
height = {self.asked("seat_height")}
"""

    def cockpit(self) -> str:
        shape = self.shape
        helm = ""
        if shape.helm_seat is not None:
            helm = f"helm_seat = {self.length(shape.helm_seat)}\nhelm_seat_height = {self.asked('seat_height')}\n"
        side = f"""\
seat_from = {self.length(shape.bridge)}
seat_to = {self.length(shape.seat_to)}
seat_inner = {self.length(shape.half_sole)}
seat_outer = {self.length(shape.half_cockpit)}
seat_height = {self.asked("seat_height")}
coaming_from = {self.length(0.0)}
coaming_to = {self.asked("cockpit_length")}
coaming_top = {self.asked("coaming_height")}
coaming_width = {self.length(COAMING)}
"""
        return f"""\
[cockpit]
length = {self.asked("cockpit_length")}
sole_width = {self.length(2 * shape.half_sole)}
aft_deck = {self.length(shape.deck)}
{helm}
[cockpit.port]                       # distances from the centreline
{side}
[cockpit.starboard]
{side}"""

    def rig(self) -> str:
        shape = self.shape
        boom = number(self.said, "boom_height")
        if shape.wheel is not None:
            x, y, z = shape.wheel
            steering = f"""\
[steering]
wheels = [{{ at = {self.point((x, y, z))}, diameter = {self.length(0.76)} }}]
binnacle = {{ at = {self.point((x - 0.14, 0.0, 0.0))}, width = {self.length(0.22)}, depth = {self.length(0.2)}, \
height = {self.length(z + 0.12)} }}
"""
        else:
            head = (shape.transom - 0.05, 0.0, shape.deck + 0.15)
            reach = head[0] - 0.62 * number(self.said, "cockpit_length")
            steering = f"""\
[steering]
tiller = {{ head = {self.point(head)}, length = {self.length(reach)}, \
end_height = {self.length(number(self.said, "seat_height") + 0.35)} }}
"""
        return f"""\
[spars.mast]
x = {self.length(shape.mast)}
top = {self.length(shape.masthead)}

[spars.mast.boom]
length = {self.length(shape.boom_length)}
height = {self.length(boom - 0.08)}
end_height = {self.asked("boom_height")}               # at its lowest, over the cockpit

{steering}"""

    def vane(self) -> str:
        said = self.said
        pendulum = said["vane_kind"] == "servo pendulum"
        with_set = "hood and bimini" if said["bimini"] == "yes" else "spray hood"
        return f"""\
[vane]
kind = "{said["vane_kind"]}"
foot = [{self.asked("blade_aft")}, {self.length(0.0)}, {self.asked("blade_foot")}]    # middle of the blade's lower edge
height = {self.asked("blade_height")}
width = {self.length(0.18 if pendulum else 0.26)}
axis = "{"tilted" if pendulum else "upright"}"
steers_from = "{number(said, "steers_from") / units.KNOT:.3g} kn"               # apparent, at the instrument
steers_from_with = "{with_set}"       # the canvas that was up when that was seen; "bare" for none
"""

    def crew(self) -> str:
        people = (("first", "crew_first", "port seat"), ("second", "crew_second", "starboard seat"))
        return "\n".join(
            f'[[crew]]\nname = "{name}"\nstature = {self.asked(key)}\nat = "{place}"\n' for name, key, place in people
        )

    def fittings(self) -> str:
        shape, said = self.shape, self.said
        boom = number(said, "boom_height")
        winch = (shape.winch, shape.half_cockpit + COAMING / 2, number(said, "coaming_height") + 0.14)
        end = shape.mast + shape.boom_length
        main = ((shape.mast + 0.1, 0.0, boom + 0.2), (end - 0.1, 0.05, boom + 0.25),
                (shape.mast + 0.08, 0.0, shape.masthead - 0.4))  # fmt: skip
        stem = shape.deck_edge[0]
        fore = ((stem[0] + 0.2, 0.0, stem[2] + 0.3), (shape.mast + 1.2, 0.3 * number(said, "beam"), shape.deck + 1.2),
                (shape.mast - 0.15, 0.0, shape.masthead - 0.9))  # fmt: skip
        winches = "\n".join(
            f'[[winch]]\nname = "primary {name}"\nat = {self.point((winch[0], side * winch[1], winch[2]))}\n'
            for name, side in (("port", -1), ("starboard", 1))
        )
        sails = "\n".join(
            f'[[sail]]\nname = "{name}"\ncorners = [{", ".join(self.point(corner) for corner in corners)}]\n'
            for name, corners in (("mainsail", main), ("headsail", fore))
        )
        exhaust = (shape.transom, 0.3 * number(said, "beam"), shape.waterline + 0.15)
        return f"""\
{winches}
{sails}
[[outlet]]
name = "engine exhaust"
kind = "exhaust"
at = {self.point(exhaust)}
"""

    def marks(self) -> str:
        shape = self.shape
        rows: list[tuple[str, Vector]] = []
        for name, bow in self._bows():
            for side, sign in (("port", -1), ("stbd", 1)):
                rows.append((f"{name}_foot_{side}", (bow.x, sign * bow.half, bow.foot_z)))
                rows.append((f"{name}_top_{side}", bow.shoulder(sign)))
        x, y, z = shape.leech
        rows += [("tent_aft_port", (x, -y, z)), ("tent_aft_stbd", (x, y, z))]
        text = "".join(f"{name} = {self.point(point)}\n" for name, point in rows)
        return f'[marks]                              # or "survey", with [[reading]] parts to fix them\n{text}'

    def _bows(self) -> list[tuple[str, Bow]]:
        shape = self.shape
        bows = [("hood", shape.hood)]
        return [*bows, ("bimini_fwd", shape.bimini[0]), ("bimini_aft", shape.bimini[1])] if shape.bimini else bows

    def tubes(self) -> str:
        names = {"hood": "spray hood aft bow", "bimini_fwd": "bimini forward bow", "bimini_aft": "bimini aft bow"}
        bows = [
            f"""\
[[tube]]
name = "{names[mark]}"
kind = "hoop"
start = "{mark}_foot_port"
end = "{mark}_foot_stbd"
rake = "{math.degrees(bow.rake):.1f} deg"                   # leans aft of vertical
crown = {self.length(bow.crown)}                  # greatest height above its feet, along its plane
top_width = {self.length(bow.top_width)}
camber = {self.length(bow.camber)}
corner_radius = {self.length(bow.radius)}
"""
            for mark, bow in self._bows()
        ]
        front = ", ".join(self.point(point) for point in self.shape.hood_front)
        track = f'kind = "rail"\nthrough = [{front}]\ndiameter = "10 mm"\n'
        rail = f'[[tube]]\nname = "spray hood front line"   # bolt rope track on the cabin top\n{track}'
        return "\n".join([*bows, rail])

    def panels(self) -> str:
        panels = [_HOOD, *([_BIMINI, _BRIDGE] if self.shape.bimini else []), _TENT]
        return "\n".join(panels)

    def sets(self) -> str:
        sailed = '"spray hood", "bimini"' if self.shape.bimini else '"spray hood"'
        first = "hood and bimini" if self.shape.bimini else "spray hood"
        sets = [(first, '"under way", "at anchor"', sailed)]
        if self.shape.bimini:
            sets.append(("shade", '"under way", "at anchor"', f'{sailed}, "bridging piece"'))
        sets.append(("wet watch", '"under way"', f'{sailed}, "watch tent roof"'))
        return "\n".join(f'[[set]]\nname = "{name}"\nused = [{used}]\nup = [{up}]\n' for name, used, up in sets)


_HOOD = """\
[[panel]]
name = "spray hood"
existing = true                      # measured, never cut or bought
cloth = "acrylic 300"
edges = [                            # clockwise seen from above; each starts where the last ended
  { name = "front", along = "spray hood front line", finish = "bolt rope" },
  { name = "starboard", finish = "press studs" },
  { name = "aft", along = "spray hood aft bow", finish = "zip" },
  { name = "port", finish = "press studs" },
]
"""

_BIMINI = """\
[[panel]]
name = "bimini"
existing = true
cloth = "acrylic 300"
edges = [
  { name = "forward", along = "bimini forward bow", from = "bimini_fwd_top_port", to = "bimini_fwd_top_stbd",\
 finish = "tube pocket" },
  { name = "starboard", finish = "webbing hem", hollow = "3 %" },
  { name = "aft", along = "bimini aft bow", from = "bimini_aft_top_stbd", to = "bimini_aft_top_port",\
 finish = "tube pocket" },
  { name = "port", finish = "webbing hem", hollow = "3 %" },
]
"""

_BRIDGE = """\
[[panel]]
name = "bridging piece"              # shade between spray hood and bimini
cloth = "awning cloth 200"
cut_in = "shade"
edges = [
  { name = "forward", along = "spray hood", edge = "aft", from = "hood_top_port", to = "hood_top_stbd",\
 finish = "zip" },
  { name = "starboard", finish = "webbing hem", hollow = "5 %" },
  { name = "aft", along = "bimini", edge = "forward", finish = "zip" },
  { name = "port", finish = "webbing hem", hollow = "5 %" },
]
"""

_TENT = """\
[[panel]]
name = "watch tent roof"             # falls aft from the spray hood and stays open there, for the vane's sake
cloth = "coated polyester 300"
cut_in = "wet watch"
edges = [
  { name = "forward", along = "spray hood", edge = "aft", from = "hood_top_port", to = "hood_top_stbd",\
 finish = "zip with flap" },
  { name = "starboard", to = "tent_aft_stbd", finish = "webbing hem", hollow = "3 %" },
  { name = "leech", to = "tent_aft_port", finish = "batten pocket", batten = "41 N m2" },
  { name = "port", finish = "webbing hem", hollow = "3 %" },
]
ties = [
  { at = "tent_aft_port", kind = "webbing and buckle" },
  { at = "tent_aft_stbd", kind = "webbing and buckle" },
]
"""
