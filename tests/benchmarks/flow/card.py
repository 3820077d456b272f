"""Print the field a graphics card gives beside the processor's, a real set on nested grids, at three times.

Run on a machine with a card: python -m tests.benchmarks.flow.card
"""

from __future__ import annotations

import numpy as np

from canvas import verbs
from canvas.air.profile import profile_ratio
from canvas.wind.flow.domain import LATTICE_SPEED, lay, sheets_of
from canvas.wind.flow.march import VISCOSITY
from canvas.wind.flow.solver import Flow


def main() -> None:
    rigging = verbs.rigging_of("examples/marrowgrass.toml")
    scene = rigging.rig("wet watch").scene
    layout = lay([rigging.rig("bare").scene, scene], awa=np.radians(15), cell=0.12)
    _, sheets = sheets_of(scene, layout.pose)

    def wind(heights):
        along = profile_ratio(heights, reference=10.0)
        return layout.pose.on_grid(np.stack([along, np.zeros_like(along)], axis=1)) * LATTICE_SPEED

    flows = [
        Flow(layout.grids, sheets, wind=wind, viscosity=VISCOSITY, floor=(0.0, 0.0), grip=0.0, sponge=3.0, device=name)
        for name in ("cpu", "card")
    ]
    print([flow.device.name for flow in flows], f"{layout.cells} cells on {len(layout.grids)} grids")
    for done, steps in ((50, 50), (100, 50), (200, 100)):
        for flow in flows:
            flow.advance(steps)
        known = [grid.known(*layout.grids[k + 1 : k + 2]) for k, grid in enumerate(layout.grids)]
        gaps = [(flows[0].now(k) - flows[1].now(k))[:, cells] for k, cells in enumerate(known)]
        print(f"{done} steps: most {max(np.abs(g).max() for g in gaps):.1e}, "
              f"rms {max(np.sqrt((g**2).mean()) for g in gaps):.1e} in lattice units")  # fmt: skip
    forces = [flow.force() for flow in flows]
    print(f"force on the parts: {np.abs(forces[0] - forces[1]).max() / np.abs(forces[0]).max():.1e} of the largest")


if __name__ == "__main__":
    main()
