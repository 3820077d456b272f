"""Print the processor time that the viewer's server takes for what is asked while dragging and after an edit.

Computes: medians of processor time of each step, no browser and no socket.
Units: milliseconds.
Source: none.
Limits: one thread of linear algebra where the surroundings say so; wall times are those of `recolour`.

Run: OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.viewer.server
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np

from tests.viewer.conftest import copy_of
from viewer import answers, handles, light
from viewer.boat import Boat
from viewer.shaping import PREVIEW_POINTS

SET = "wet watch"
TIMES = 6


def asked(hour: float) -> light.Asked:
    return light.Asked(
        latitude=float(np.radians(-17.0)), day=date(2026, 12, 21), hour=hour, heading=float(np.radians(90)), heel=0.0
    )


def said(what: str, work: Callable[[int], object]) -> float:
    """Print and return the median processor time of a step [ms]."""
    taken = []
    for time_of in range(TIMES):
        before = time.process_time()
        work(time_of)
        taken.append(1000 * (time.process_time() - before))
    print(f"{what:52}{np.median(taken):8.1f} ms")
    return float(np.median(taken))


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        boat = Boat(copy_of("marrowgrass", Path(folder)))
        boat.shown = SET
        follower = light.Follower(boat.rigging.rig(SET))
        print("while the hour is dragged")
        parts = [
            said("  where the sun stands", lambda n: asked(7.25 + n).sun()),
            said("  light on every sample point", lambda n: follower.at(asked(7.25 + n))),
            said("  path of the day's sun", lambda n: light.path_of(date(2026, 12, 2 + n), 0.1)),
        ]
        print(f"  {'together':50}{sum(parts):8.1f} ms")
        key = next(one["key"] for one in handles.parts_of(boat.rigging) if one["name"] == "watch tent roof")

        def leech(value: float) -> Callable[[object], None]:
            found = handles.handles_of(boat.draft, boat.rigging, key)
            handle = next(one for one in found if one.label == "leech: height of both ends")
            return lambda draft: handles.put(draft, handle, value)

        print("while a leech is held")
        said("  tried shape, its shade by few points", lambda n: light.Follower(
            boat.trial(leech(1.25 + 0.02 * n)).rig(SET), most=PREVIEW_POINTS).at(asked(9.0)))  # fmt: skip
        print("after it is let go")
        parts = [
            said("  text, boat and cloth", lambda n: boat.change(leech(1.22 + 0.03 * n))),
            said("  ready for light", lambda _: light.Follower(boat.rigging.rig(SET))),
            said("  shade now", lambda n: light.Follower(boat.rigging.rig(SET)).at(asked(7.5 + n))),
            said("  the vane's words", lambda _: answers.vane_words(boat.rigging, SET, heel=0.0)),
        ]
        print(f"  {'to the first answers':50}{parts[0] + parts[2] + parts[3]:8.1f} ms")


if __name__ == "__main__":
    main()
