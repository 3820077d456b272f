"""FreeCAD, headless, reads the same areas, lengths, layers and texts as ezdxf does: every drawing of every example."""

import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from canvas import verbs
from canvas.cutting.dxf import read_dxf

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
TOOL = next((found for name in ("freecadcmd", "FreeCADCmd") if (found := shutil.which(name))), None)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(TOOL is None, reason="FreeCAD is not installed: apt install freecad-python3"),
]


@pytest.fixture(scope="module", params=EXAMPLES, ids=lambda path: path.stem)
def both(request, tmp_path_factory):
    """Return by drawing what ezdxf and what FreeCAD read of it."""
    folder = tmp_path_factory.mktemp(request.param.stem)
    verbs.cut(request.param, out=folder)
    drawings = sorted(folder.glob("*.dxf"))
    read = folder / "read.json"
    asked = {"CANVAS_DRAWINGS": os.pathsep.join(map(str, drawings)), "CANVAS_READ": str(read)}
    home = {"HOME": str(folder), "XDG_CONFIG_HOME": str(folder), "QT_QPA_PLATFORM": "offscreen"}
    script = Path(__file__).parent / "freecad_read.py"
    done = subprocess.run(
        [TOOL, str(script)], env={**os.environ, **asked, **home}, check=False, capture_output=True, timeout=500
    )
    assert read.exists(), done.stderr.decode()[-2000:]
    seen = json.loads(read.read_text(encoding="utf-8"))
    return {path.name: (read_dxf(path), seen[str(path)]) for path in drawings}


def spelled(layer):
    """Return a layer's name as FreeCAD spells it."""
    return re.sub(r"\W", "_", layer)


def by_layer(drawing):
    return {layer for layer, *_ in drawing.points} | {line.layer for line in drawing.lines}


@pytest.mark.behaviour
def test_every_layer_is_there_with_its_length(both):
    for name, (ours, theirs) in both.items():
        if name.endswith("-numbered.dxf"):
            continue
        assert set(theirs["layers"]) == {spelled(layer) for layer in by_layer(ours)}, name
        for layer in by_layer(ours):
            millimetres = sum(line.length for line in ours.on(layer)) * 1000
            assert theirs["layers"][spelled(layer)]["length"] == pytest.approx(millimetres, rel=1e-4, abs=0.01), name


@pytest.mark.behaviour
def test_every_outline_closes_round_the_same_area(both):
    for name, (ours, theirs) in both.items():
        if name.endswith("-numbered.dxf") or not ours.on("cut"):
            continue
        cut = theirs["layers"]["cut"]
        assert sorted(cut["areas"]) == pytest.approx(sorted(1e6 * line.area for line in ours.on("cut")), rel=1e-3)
        assert sorted(cut["around"]) == pytest.approx(sorted(1e3 * line.length for line in ours.on("cut")), rel=1e-3)


@pytest.mark.behaviour
def test_numbered_layers_hold_what_named_ones_do(both):
    compared = 0
    for name, (_, theirs) in both.items():
        if name.endswith("-numbered.dxf"):
            named = both[name.replace("-numbered", "")][1]["layers"].values()
            assert sorted(one["length"] for one in theirs["layers"].values()) == pytest.approx(
                sorted(one["length"] for one in named)
            )
            compared += 1
    assert compared


@pytest.mark.behaviour
def test_texts_and_drill_points_come_whole(both):
    for name, (ours, theirs) in both.items():
        assert sorted(theirs["texts"]) == sorted(text.text for text in ours.texts), name
        if not name.endswith("-numbered.dxf"):
            for layer in {layer for layer, *_ in ours.points}:
                count = sum(one == layer for one, *_ in ours.points)
                assert theirs["layers"][spelled(layer)]["points"] == count, (name, layer)
