"""Panels as nobody draws them: cut whole and readable, or refused in words, and never anything between."""

import json
import math
import shutil
import subprocess
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from shapely.geometry import Polygon

from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import read_dxf
from canvas.cutting.files import cut_files, file_stem, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.gather import gather
from canvas.cutting.nest import SELVEDGE, SPACING
from canvas.cutting.sheet import Text, text_box
from canvas.design.problems import DesignError
from canvas.design.reading import parse_design
from canvas.jobs.failure import CouldNot
from canvas.verbs.asking import rigging_of
from tests.cutting import cut_shapes as shapes

EXAMPLES = Path(__file__).parents[2] / "examples"
TEXT = (EXAMPLES / "marrowgrass.toml").read_text(encoding="utf-8")
HIGH = 2.6  # [m] clear of all that is aboard
CURVED = """seams = [
  { from = ["0.5 m", "-0.9 m", "2.6 m"], through = [["1.5 m", "-0.6 m", "2.6 m"]], to = ["2.5 m", "-0.9 m", "2.6 m"] },
  { from = ["0.5 m", "0.6 m", "2.6 m"], to = ["2.5 m", "0.9 m", "2.6 m"] },
  { from = ["1.5 m", "-0.6 m", "2.6 m"], to = ["1.5 m", "0.7 m", "2.6 m"] },
]"""


def box(long, wide, x=0.5):
    return [(x, -wide / 2), (x, wide / 2), (x + long, wide / 2), (x + long, -wide / 2)]


def ring(count, radius=0.8):
    turns = [math.pi * (1 + 1 / count) - 2 * math.pi * k / count for k in range(count)]
    return [(1.3 + radius * math.cos(turn), radius * math.sin(turn)) for turn in turns]


def odd(corners, *, finish="hem", asked=""):
    """Return the boat with one more panel, flat, over all: its edges free and 3 % hollow."""
    count = len(corners)
    marks = "\n".join(f'odd_{k} = ["{x:.3f} m", "{y:.3f} m", "{HIGH} m"]' for k, (x, y) in enumerate(corners))
    edges = "\n".join(
        f'  {{ name = "e{k}", {"from = " + chr(34) + "odd_0" + chr(34) + ", " if k == 0 else ""}'
        f'to = "odd_{(k + 1) % count}", finish = "{finish}", hollow = "3 %" }},'
        for k in range(count)
    )
    panel = f'[[panel]]\nname = "odd"\ncloth = "coated polyester 300"\ncut_in = "wet watch"\nedges = [\n{edges}\n]\n'
    text = TEXT.replace("[marks]\n", f"[marks]\n{marks}\n", 1).replace("[[set]]", f"{panel}{asked}\n\n[[set]]", 1)
    head, name, tail = text.partition('name = "wet watch"')
    return head + name + tail.replace("up = [", 'up = ["odd", ', 1)


def cut_of(text, *, width=None):
    found = gather(rigging_of(parse_design(text, file="odd.toml", folder=EXAMPLES)))
    panel = next(one for one in found.panels if one.name == "odd")
    options = CutOptions(seams=found.seams, roll_widths={} if width is None else {panel.cloth.name: width})
    return cut_panels([panel], [], finishes=read_finishes(), options=options)


WHOLE = {
    "narrow": (odd(box(1.5, 0.15)), {}, 1),
    "triangle": (odd([(0.5, -0.5), (0.5, 0.5), (1.9, 0.0)]), {}, 1),
    "eight edges": (odd(ring(8)), {}, 2),
    "wider than two rolls": (odd(box(2.0, 3.6)), {}, 3),
    "roll of 0.9 m": (odd(box(2.0, 1.6)), {"width": 0.9}, 3),
    "roll of 3 m": (odd(box(2.0, 2.6)), {"width": 3.0}, 1),
    "inside corner": (odd([(0.5, -0.6), (0.5, 0.6), (1.2, 0.6), (1.2, 0.05), (2.0, 0.05), (2.0, -0.6)]), {}, 1),
    "curved seams and one between them": (odd(box(2.0, 2.6), asked=CURVED), {"width": 3.0}, 4),
}


@pytest.mark.property
@pytest.mark.parametrize("name", WHOLE)
def test_odd_panels_are_cut_whole_and_read_alike_by_three_readers(name, tmp_path):
    text, more, pieces = WHOLE[name]
    result = cut_of(text, **more)
    main = [part for part in result.parts if part.edges]
    assert len(main) == pieces
    assert all(abs(seam.length_a - seam.length_b) < 0.002 for seam in result.seams)
    for part in main:
        finished, cutting = Polygon(part.finished), Polygon(part.cut)
        assert finished.is_valid
        assert cutting.is_valid
        assert finished.difference(cutting.buffer(1e-6)).area < 1e-6
        texts = [Polygon(text_box(item)) for item in part.items if isinstance(item, Text)]
        assert all(finished.contains(one) for one in texts)
        assert all(not one.intersects(other) for k, one in enumerate(texts) for other in texts[:k])
    write_files(cut_files(result, papers=()), tmp_path)
    (roll,) = result.rolls
    areas = sorted(part.cut_area for part in result.parts)
    for ending in ("", "-numbered", "-nest"):
        path = tmp_path / f"{file_stem(roll.cloth)}{ending}.dxf"
        audit = ezdxf.readfile(path).audit()
        assert not audit.has_errors
        assert not audit.has_fixes
        assert sorted(read_by_gdal(path, tmp_path)) == pytest.approx(areas, rel=1e-3)
    laid = [Polygon(line.points) for line in read_dxf(tmp_path / f"{file_stem(roll.cloth)}-nest.dxf").on("cut")]
    for k, part in enumerate(laid):
        assert SELVEDGE - 1e-4 <= part.bounds[1] <= part.bounds[3] <= roll.layout.width - SELVEDGE + 1e-4
        assert all(part.distance(other) > SPACING - 2e-4 for other in laid[:k])


def read_by_gdal(path, folder):
    """Return the areas inside cut lines as GDAL reads them, by the layer's plain name or its number. [m2]"""
    tool = shutil.which("ogr2ogr")
    if tool is None:
        pytest.skip("GDAL is not installed")
    out = folder / "read.json"
    subprocess.run([tool, "-f", "GeoJSON", str(out), str(path), "entities"], check=True, capture_output=True)
    features = [f for f in json.loads(out.read_text())["features"] if f["properties"]["Layer"] in ("cut", "1")]
    rings = [f["geometry"]["coordinates"] for f in features]
    flat = [np.array(ring[0] if isinstance(ring[0][0], list) else ring)[:, :2] / 1000 for ring in rings]
    assert all(np.hypot(*(ring[0] - ring[-1])) < 1e-6 for ring in flat)
    return [shapes.area_of(ring[:-1]) for ring in flat]


WINDOW = 'inserts = [{{ name = "w", cloth = "clear sheet 0.75", inset = {} }}{}]'
SECOND = ', { name = "v", cloth = "clear sheet 0.75", inset = "0.3 m" }'
REFUSED = {
    "pocket wider than its panel": (
        odd(box(1.5, 0.09)).replace('"odd_2", finish = "hem", hollow = "3 %"', '"odd_2", finish = "batten pocket"'),
        "finish-wider-than-part",
    ),
    "corner sharper than its hem": (
        odd([(0.5, -0.3), (0.5, 0.3), (3.3, 0.05)]).replace("3 %", "2 %"), "corner-too-sharp",
    ),
    "text that does not fit": (odd(box(0.1, 0.1)), "text-does-not-fit"),
    "window at the edge": (odd(box(1.5, 1.0), asked=WINDOW.format('"0 mm"', "")), "wrong-value"),
    "windows over each other": (odd(box(1.5, 1.0), asked=WINDOW.format('"0.2 m"', SECOND)), "impossible-panel"),
    "edges that cross": (odd([(0.5, -0.5), (1.9, 0.5), (1.9, -0.5), (0.5, 0.5)]), "impossible-panel"),
    "edges the wrong way round": (odd(box(1.5, 1.0)[::-1]), "impossible-panel"),
    "an edge of 1 mm": (odd(box(1.5, 0.001)), "impossible-panel"),
    "nine edges": (odd(ring(9)), "wrong-value"),
}  # fmt: skip


@pytest.mark.behaviour
@pytest.mark.parametrize("name", REFUSED)
def test_panels_that_cannot_be_cut_are_refused_in_words(name):
    text, code = REFUSED[name]
    with pytest.raises(DesignError) as found:
        cut_of(text)
    problems = {problem.code: problem for problem in found.value.problems}
    assert code in problems
    assert "odd" in str(problems[code])
    assert problems[code].wanted


def drawn(seed):
    """Return a boat with a panel of three to eight edges drawn by lot, maybe with seams and a window."""
    draw = np.random.default_rng(seed)
    count = int(draw.integers(3, 9))
    turns = (np.linspace(0, 2 * np.pi, count, endpoint=False) + draw.uniform(-0.25, 0.25, count))[::-1]
    reach = draw.uniform(0.55, 1.3, count)
    corners = [(1.3 + r * math.cos(turn), r * math.sin(turn)) for r, turn in zip(reach, turns, strict=True)]
    y, near, far = draw.normal(0, 0.15, 3)
    across = f'["1.3 m", "{y:.3f} m", "2.6 m"]'
    stem = f'{{ from = ["1.3 m", "-0.5 m", "2.6 m"], to = ["1.35 m", "{y:.3f} m", "2.6 m"] }}'
    seams = (
        "",
        f"seams = [{across}]",
        f'seams = [{{ from = ["0.8 m", "{near:.3f} m", "2.6 m"], to = ["1.8 m", "{far:.3f} m", "2.6 m"] }}]',
        f"seams = [{across}, {stem}]",
    )[draw.integers(0, 4)]
    window = WINDOW.format(f'"{draw.uniform(0.1, 0.5):.2f} m"', "") if draw.random() < 0.3 else ""
    finish = str(draw.choice(["hem", "binding", "webbing hem", "lacing facing", "zip"]))
    return odd(corners, finish=finish, asked=f"{seams}\n{window}")


def cut_or_refused(seed):
    """Return the parts, or the words they were refused in."""
    try:
        return cut_of(drawn(seed)), None
    except (DesignError, CouldNot) as refused:
        return None, str(refused)


@pytest.mark.slow
@pytest.mark.property
def test_panels_drawn_by_lot_are_cut_whole_or_refused_in_words():
    """Forty; at least half are cut."""
    found = [cut_or_refused(seed) for seed in range(400, 440)]
    assert all('"odd' in words for _, words in found if words is not None)
    done = [result for result, _ in found if result is not None]
    assert len(done) >= 20
    for result in done:
        assert all(abs(seam.length_a - seam.length_b) < 0.002 for seam in result.seams)
        for part in result.parts:
            finished, cutting = Polygon(part.finished), Polygon(part.cut)
            assert finished.is_valid
            assert cutting.is_valid
            assert finished.difference(cutting.buffer(1e-6)).area < 1e-6
        for roll in result.rolls:
            laid = [Polygon(roll.layout.outline(k, result.parts[n].cut)) for k, n in enumerate(roll.parts)]
            assert all(one.distance(other) > SPACING - 2e-4 for k, one in enumerate(laid) for other in laid[:k])
