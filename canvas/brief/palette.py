"""Choose colours that read in sunlight, in grey print and by colour-blind eyes.

Computes: the tint and pen of each panel by its place in the design.
Units: none.
Source: hues of M. Okabe and K. Ito, "Color universal design" (2002, 2008), lightened for areas; lightness spaced so
    that neighbours differ in grey print too.
Limits: eight tints, then they come round again; words name every panel, so no answer rests on colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Tint:
    """Colours of one thing: the area, its outline and words."""

    fill: str
    line: str


PANELS: tuple[Tint, ...] = (
    Tint(fill="#f0c878", line="#7a4d00"),  # orange
    Tint(fill="#8cc8ea", line="#0b4f7a"),  # sky blue
    Tint(fill="#4fb495", line="#00513c"),  # bluish green
    Tint(fill="#e08a52", line="#7d2f00"),  # vermilion
    Tint(fill="#d9a3c3", line="#70285a"),  # reddish purple
    Tint(fill="#5f93c4", line="#0a365f"),  # blue
    Tint(fill="#f1e88c", line="#635900"),  # yellow
    Tint(fill="#b9b9b9", line="#2e2e2e"),  # grey
)
SERIES: tuple[str, ...] = ("#000000", "#0072b2", "#d55e00", "#009e73", "#a3457e", "#b58900", "#3a9fd6", "#6b6b6b")
DASHES: tuple[str, ...] = ("solid", "dashed", "dashdot", "dotted", "solid", "dashed", "dashdot", "dotted")

INK = "#1a1a1a"
QUIET = "#5b5b5b"
BOAT = "#f3f1ea"
SOLID = "#d3d3d0"
CREW = "#a9a59c"
VANE = "#c23b22"
WATER = "#2c6e9b"
PAPER = "#ffffff"


def tint(name: str, *, names: Sequence[str]) -> Tint:
    """Return the tint of a panel, the same in every picture of one design.

    Parameters
    ----------
    name : str
    names : sequence of str
        All panels of the design in its order.
    """
    return PANELS[(list(names).index(name) if name in names else len(PANELS) - 1) % len(PANELS)]
