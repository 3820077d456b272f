"""Read the name of a record's key: what it says, in which unit, and which end of a range it is.

Computes: nothing.
Units: as the endings of keys say.
Source: none.
Limits: one unit a key, at its end or before `_low` and `_high`; money, plain counts and what is said per hour in words
    (`cost_per_dry_h`) have none.
"""

from __future__ import annotations

from dataclasses import dataclass

UNITS = (
    ("_mm_h", "mm/h"), ("_m2", "m²"), ("_deg", "°"), ("_kn", "kn"), ("_mm", "mm"), ("_m", "m"), ("_kg", "kg"),
    ("_kgm", "kg m"), ("_n", "N"), ("_h", "h"), ("_nm", "nm"), ("_sed", "SED"),
)  # fmt: skip
ENDS = ("_low", "_high")


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A key in words.

    Attributes
    ----------
    what : str
        Its words without unit and end.
    unit : str or None
        None where it has none, or is a share.
    share : bool
        Whether it is a share of one.
    end : str or None
        ``low`` or ``high`` of a range.
    """

    what: str
    unit: str | None
    share: bool
    end: str | None


def head_of(key: str) -> Head:
    """Return what a record's key says."""
    end = next((one for one in ENDS if key.endswith(one)), "")
    name = key.removesuffix(end)
    ending, unit = next((one for one in UNITS if name.endswith(one[0]) and "_per_" not in name), ("", None))
    if name.startswith("litres") and unit == "h":
        unit = "l/h"
    said = name.removesuffix(ending).replace("_share", "").replace("_", " ")
    share = unit is None and "share" in name.split("_")
    return Head(what=said, unit=unit, share=share, end=end[1:] or None)


def says_share(unit: object) -> bool:
    """Return whether a unit that stands in a row of its own says that the row's numbers are shares of one."""
    return isinstance(unit, str) and (unit.startswith("share") or unit == "of bare")
