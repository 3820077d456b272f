"""Scan, photographs and tape in one design: all three are weighed together, and what differs is named."""

from __future__ import annotations

import numpy as np
import pytest

from canvas import verbs
from canvas.asbuilt.frame import Distance
from tests.asbuilt import scans

WRONG = "bimini_aft_port"


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Return the answer of a scan with one pick 12 cm off, of a boat photographed and taped before, and its folder."""
    folder = tmp_path_factory.mktemp("together")
    made = scans.made_scan(scans.boat("marrowgrass"), edge=0.04, noise=0.002, pick=0.002)
    true = dict(zip(made.names, made.true, strict=True))
    rng = np.random.default_rng(2)
    lines = [(scans.ROOT / "examples" / "marrowgrass.toml").read_text(encoding="utf-8")]
    for name in made.names:
        spot = ", ".join(f'"{value:.4f} m"' for value in true[name] + rng.normal(0, 0.002, 3))
        lines.append(f'[[reading]]\nkind = "place"\nat = "{name}"\npoint = [{spot}]\nsd = "3 mm"\n')
    for a, b in zip(made.names[::2], made.names[1::2], strict=False):
        length = float(np.linalg.norm(true[a] - true[b])) + rng.normal(0, 0.002)
        lines.append(f'[[reading]]\nkind = "tape"\nfrom = "{a}"\nto = "{b}"\nlength = "{length:.4f} m"\n')
    (folder / "marrowgrass.toml").write_text("\n".join(lines), encoding="utf-8")
    picked = made.picked.copy()
    picked[made.names.index(WRONG)] += np.array([0.12, 0.0, 0.0]) / made.scale
    spoilt = scans.MadeScan(mesh=made.mesh, names=made.names, true=made.true, picked=picked, scale=made.scale)
    file, points = scans.written(folder, spoilt)
    far = max((float(np.linalg.norm(true[a] - true[b])), a, b) for a in true for b in true if WRONG not in (a, b))
    distance = Distance(a=far[1], b=far[2], length=far[0], sd=0.003)
    hold = [name for name in made.names if name != WRONG]
    answer = verbs.scan(
        folder / "marrowgrass.toml", file, points=points, distances=[distance], hold=hold, cell=None
    )  # fmt: skip
    answer.save(folder)
    return answer, folder, true


@pytest.mark.behaviour
def test_scan_names_what_differs_from_photographs_and_tape(told):
    answer, _, _ = told
    named = [one for one in answer.top.differences if one.named and one.against != "surface"]
    assert {one.name for one in named if one.against == "mark"} == {WRONG}
    assert all(WRONG in one.name for one in named)
    assert sum(one.against == "tape" for one in answer.top.differences) >= 5


@pytest.mark.behaviour
def test_survey_weighs_all_three_and_names_the_scan_as_wrong(told):
    _, folder, true = told
    both = folder / "marrowgrass-scanned.toml"
    first = verbs.survey(both).record()["suspects"][0]
    assert WRONG in first["reading"]
    text = both.read_text(encoding="utf-8").split("\n")
    assert f'at = "{WRONG}"' in text[first["line"] - 4 : first["line"]]
    assert first["line"] > len((folder / "marrowgrass.toml").read_text(encoding="utf-8").split("\n")) - 2
    start = max(k for k in range(first["line"]) if text[k] == "[[reading]]")
    stop = next(k for k in range(first["line"], len(text) + 1) if k == len(text) or text[k].startswith("["))
    both.write_text("\n".join([*text[:start], *text[stop:]]), encoding="utf-8")
    mended = verbs.survey(both).record()["suspects"]
    assert not [one for one in mended if WRONG in one["reading"]]
    marks = verbs.rigging_of(both).model.marks
    assert max(np.linalg.norm(marks.at(name) - true[name]) for name in true) < 0.007
