"""Hold what a flat part lights up to the panel that it is cut from."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from canvas import verbs
from canvas.cutting.ordered import cut_result
from tests.viewer.conftest import ROOT

pytestmark = pytest.mark.behaviour


def test_shaped_parts_lie_on_their_panel_and_cover_it_between_them():
    rigging = verbs.rigging_of(ROOT / "examples" / "marrowgrass.toml")
    cut = cut_result(rigging)
    by_panel: dict[str, list] = {}
    for strain in cut.strains:
        by_panel.setdefault(cut.part(strain.part).panel, []).append(strain)
    assert any(len(parts) > 1 for parts in by_panel.values())
    for panel, parts in by_panel.items():
        shape = rigging.cut_shape(panel)
        body = trimesh.Trimesh(np.array(shape.vertices), np.array(shape.faces), process=False)
        meshes = [trimesh.Trimesh(np.array(one.vertices), np.array(one.faces), process=False) for one in parts]
        near = cKDTree(trimesh.sample.sample_surface(body, 100_000, seed=1)[0])
        off = np.concatenate([near.query(mesh.vertices)[0] for mesh in meshes])
        assert off.max() < 0.015  # the samples are some 5 mm apart
        assert sum(mesh.area for mesh in meshes) == pytest.approx(body.area, rel=0.005)
