"""Answer each question about a design with one function: what a notebook calls, and the command line and viewer too.

Computes: for each verb an `Answer`: the results by set, and the record that is printed or written.
Units: SI and radians in and out; records carry their units in their keys.
Source: the layers below.
Limits: nothing is printed or drawn here.

Example
-------
>>> from canvas import verbs
>>> answer = verbs.check("examples/marrowgrass.toml", sets=["shade"])
>>> [panel["name"] for panel in answer.record()["sets"][0]["panels"]]
['spray hood', 'bimini', 'bridging piece']
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from canvas.jobs.lazy import names_in

if TYPE_CHECKING:
    from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
    from canvas.verbs.boat import check, survey
    from canvas.verbs.briefing import brief
    from canvas.verbs.capture import photo, scan, target_sheet
    from canvas.verbs.casing import case, read_case
    from canvas.verbs.making import buy, cut
    from canvas.verbs.safety import fit
    from canvas.verbs.sewing import life
    from canvas.verbs.sheets import mockup, sheet
    from canvas.verbs.sky import rain, shade
    from canvas.verbs.starting import new
    from canvas.verbs.strength import loads
    from canvas.verbs.study import compare, passage
    from canvas.verbs.variants import search, sweep
    from canvas.verbs.whole import report
    from canvas.verbs.wind import vane

__all__ = [
    "DesignLike",
    "brief",
    "buy",
    "case",
    "check",
    "chosen_sets",
    "compare",
    "cut",
    "fit",
    "life",
    "loads",
    "mockup",
    "new",
    "passage",
    "photo",
    "rain",
    "read_case",
    "report",
    "rigging_of",
    "scan",
    "search",
    "shade",
    "sheet",
    "survey",
    "sweep",
    "target_sheet",
    "vane",
]

_MODULES = {  # loaded when asked for, so that a verb does not wait for what only others need
    "asking": ("DesignLike", "chosen_sets", "rigging_of"),
    "boat": ("check", "survey"),
    "capture": ("photo", "scan", "target_sheet"),
    "casing": ("case", "read_case"),
    "sewing": ("life",),
    "briefing": ("brief",),
    "making": ("buy", "cut"),
    "safety": ("fit",),
    "sheets": ("mockup", "sheet"),
    "sky": ("rain", "shade"),
    "starting": ("new",),
    "strength": ("loads",),
    "study": ("compare", "passage"),
    "variants": ("search", "sweep"),
    "whole": ("report",),
    "wind": ("vane",),
}

__getattr__ = names_in(__name__, _MODULES)
