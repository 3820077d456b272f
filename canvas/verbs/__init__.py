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

from canvas.verbs.asking import DesignLike, chosen_sets, rigging_of
from canvas.verbs.boat import check, survey
from canvas.verbs.making import brief, buy, cut
from canvas.verbs.safety import fit, loads
from canvas.verbs.sheets import mockup, sheet
from canvas.verbs.sky import rain, shade
from canvas.verbs.starting import new
from canvas.verbs.study import compare, passage
from canvas.verbs.variants import search, sweep
from canvas.verbs.whole import report
from canvas.verbs.wind import vane

__all__ = [
    "DesignLike",
    "brief",
    "buy",
    "check",
    "chosen_sets",
    "compare",
    "cut",
    "fit",
    "loads",
    "mockup",
    "new",
    "passage",
    "rain",
    "report",
    "rigging_of",
    "search",
    "shade",
    "sheet",
    "survey",
    "sweep",
    "vane",
]
