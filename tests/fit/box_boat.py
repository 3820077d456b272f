"""Give the tests a boat of boxes with a flat roof or an upright wall, whose checks are arithmetic."""

from pathlib import Path

from canvas.cloth.rigging import Rigging
from canvas.design.reading import parse_design
from canvas.geometry.model import build_model

ROOF, WALL_FOOT, WALL_TOP, WALL_X = 1.60, 1.00, 1.50, 0.20
CREW = (
    '{ name = "Ada", stature = "1.70 m", sitting_height = "0.90 m", sitting_eye_height = "0.78 m", '
    'eye_height = "1.60 m", reach = "0.66 m" }'
)

SIDE = (
    "seat_from = 0.3, seat_to = 1.9, seat_inner = 0.4, seat_outer = 0.9, seat_height = 0.4, "
    "coaming_from = 0, coaming_to = 2.4, coaming_top = 0.7, coaming_width = 0.1"
)

BOAT = """
name = "Boxes"
units = "m"
crew = [CREW]
winch = [{ name = "port", at = [1.2, -0.95, 0.80], handle = "0.25 m" }]
fitting = [{ name = "ring", kind = "harness point", at = [1.0, 0.0, 0.1] }]
[hull]
deck_edge = [[-6, 0, 0.6], [-3, 1.6, 0.5], [0, 1.9, 0.5], [2, 1.8, 0.5], [3, 1.5, 0.5]]
waterline = -0.6
[cabin]
front = -3
front_width = 1.6
front_height = 0.7
aft_width = 2.0
aft_height = 0.7
camber = 0
companionway = { width = 0.7, sill = 0.2, top = 0.7 }
[cockpit]
length = 2.4
sole_width = 0.8
aft_deck = 0.5
helm_seat = 0.4
helm_seat_height = 0.4
port = { SIDE }
starboard = { SIDE }
[spars.mast]
x = -2.5
top = 12
boom = { length = 3.5, height = 2.0, end_height = 2.0, diameter = 0.1, sheet_at = [-1.2, 0, 0.7] }
[steering]
wheels = [{ at = [1.6, 0, 0.7], diameter = 0.8 }]
[vane]
kind = "servo pendulum"
foot = [3.6, 0, 1.4]
height = 0.8
width = 0.2
axis = "upright"
steers_from = "5 kn"
[marks]
a = [A_X, -1.1, A_Z]
b = [A_X, 1.1, A_Z]
c = [C_X, 1.1, C_Z]
d = [C_X, -1.1, C_Z]
[[tube]]
name = "forward rail"
kind = "rail"
through = ["a", "b"]
diameter = "20 mm"
[[tube]]
name = "aft rail"
kind = "rail"
through = ["c", "d"]
diameter = "20 mm"
[[tube]]
name = "starboard rail"
kind = "rail"
through = ["b", "c"]
diameter = "20 mm"
[[tube]]
name = "port rail"
kind = "rail"
through = ["d", "a"]
diameter = "20 mm"
[[panel]]
name = "sheet"
cloth = "coated polyester 300"
edges = [
  { name = "forward", along = "forward rail", finish = "FINISH" },
  { name = "starboard", along = "starboard rail", finish = "hem" },
  { name = "aft", along = "aft rail", finish = "FINISH" },
  { name = "port", along = "port rail", finish = "hem" },
]
ties = [TIES]
[[set]]
name = "up"
used = ["under way"]
up = ["sheet"]
[[set]]
name = "harbour"
used = ["at anchor"]
up = ["sheet"]
"""


def boxes(*, a=(0.20, ROOF), c=(2.20, ROOF), finish="zip", crew=CREW, ties=""):
    """Return the boat with its sheet between two athwart rails, held all round, each given by x and z."""
    text = BOAT.replace("CREW", crew).replace("SIDE", SIDE).replace("FINISH", finish).replace("TIES", ties)
    for key, value in (("A_X", a[0]), ("A_Z", a[1]), ("C_X", c[0]), ("C_Z", c[1])):
        text = text.replace(key, repr(value))
    source = parse_design(text, file="boxes.toml", folder=Path())
    return Rigging(build_model(source))


def roofed(**options):
    """Return the boat under a flat level roof."""
    return boxes(**options)


def walled(**options):
    """Return the boat with an upright wall across, from WALL_FOOT to WALL_TOP, at WALL_X."""
    return boxes(a=(WALL_X, WALL_FOOT), c=(WALL_X, WALL_TOP), **options)
