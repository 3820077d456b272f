"""Gores are proposed where cloth strains past its limit; a design that writes down the proposal gets the same parts."""

import dataclasses
import re

import numpy as np
import pytest
from shapely.geometry import Polygon

from canvas.cloth.loads import Loads
from canvas.cloth.sewing import Hold, Seam, sew
from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import read_dxf
from canvas.cutting.files import cut_files, file_stem, write_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.order import sewing_order
from canvas.cutting.piece import Insert
from canvas.cutting.sheet import Text, text_box
from canvas.design.problems import DesignError
from canvas.jobs.failure import CouldNot
from canvas.verbs.making import cut
from tests.cutting import bimini
from tests.cutting import cut_shapes as shapes
from tests.cutting import sewn_back as back

FINISHES = read_finishes()
BLOWN = 20.0  # [Pa] from below: a breath of 6 m/s
PLACE = r'\["(-?\d+\.\d+) m", "(-?\d+\.\d+) m", "(-?\d+\.\d+) m"\]'


def dome(height=0.25, **more):
    """Return a shallow dome 1.2 m across: too much for one piece of coated cloth."""
    return shapes.panel(
        "dome", lambda u, v: (u, v, height * (1 - u * u - v * v)), np.linspace(-0.6, 0.6, 25),
        np.linspace(-0.6, 0.6, 25), **more,
    )  # fmt: skip


def made(panel, seams=None):
    options = CutOptions() if seams is None else CutOptions(seams={panel.name: seams})
    return cut_panels([panel], [], finishes=FINISHES, options=options)


def places_in(text):
    return tuple(np.array([[float(part) for part in found]]) for found in re.findall(PLACE, text))


def same_parts(one, two, within):
    assert [part.name for part in one.parts] == [part.name for part in two.parts]
    for a, b in zip(one.parts, two.parts, strict=True):
        assert Polygon(a.finished).hausdorff_distance(Polygon(b.finished)) < within
        assert [edge.name for edge in a.edges] == [edge.name for edge in b.edges]


@pytest.fixture(scope="module")
def gored():
    panel = dome()
    return panel, made(panel)


@pytest.mark.property
def test_a_dome_is_divided_into_gores_that_strain_less_than_the_cloth_takes(gored):
    panel, result = gored
    (divided,) = result.divided
    assert divided.strain_whole > panel.cloth.strain_limit >= divided.strain_left
    assert divided.pieces == len(divided.through) + 1 > 1
    assert f"strain {divided.strain_whole * 100:.1f} % in one piece" in divided.reason


@pytest.mark.property
def test_a_design_that_writes_the_proposed_gores_gets_the_same_parts(gored):
    """To the millimetre to which the message writes them."""
    panel, result = gored
    (note,) = [one for one in result.cautions if one.code == "flat-sag"]
    written = places_in(note.wanted[note.wanted.index("seams = [") :])
    assert len(written) == len(result.divided[0].through)
    chosen = made(panel, written)
    same_parts(result, chosen, 0.002)
    assert chosen.divided[0].reason == "seams chosen by the design"
    assert chosen.divided[0].through == ()


@pytest.mark.property
def test_gores_that_a_design_chose_too_few_of_are_told_the_rest():
    panel = dome(0.32)
    first = np.array([[0.0, 0.4, 0.24]])
    with pytest.raises(DesignError) as found:
        made(panel, (first,))
    (said, *_) = (one.wanted for one in found.value.problems if one.code == "strain-over-limit")
    left, rest = re.search(r"more would leave (\d+\.\d) %: add (.*) to seams", said).groups()
    more = made(panel, (first, *places_in(rest)))
    assert more.divided[0].strain_left * 100 == pytest.approx(float(left), abs=0.06)
    assert more.divided[0].strain_left <= panel.cloth.strain_limit


@pytest.mark.property
def test_gores_have_equal_sides_match_marks_labels_and_a_place_in_the_sewing_order(gored, tmp_path):
    panel, result = gored
    files = {file.name: file.content for file in cut_files(result, papers=(), finishes=FINISHES)}
    order = files["sewing-order.txt"].decode()
    for seam in result.seams:
        assert abs(seam.length_a - seam.length_b) < 0.002
        assert order.index(f'"{seam.name}"') > 0
        both = [part for part in result.parts if any(edge.name == seam.name for edge in part.edges)]
        assert len(both) == 2
        numbers = [{n.number for n in part.notches if n.joint == seam.name} for part in both]
        assert numbers[0] == numbers[1] != set()
    write_files(cut_files(result, papers=()), tmp_path)
    texts = [text.text for text in read_dxf(tmp_path / f"{file_stem(panel.cloth.name)}.dxf").texts]
    for part in result.parts:
        assert sum(text == part.name or text.startswith(f"{part.name};") for text in texts) == 1


@pytest.mark.property
@pytest.mark.parametrize("count", [2, 4, 6])
def test_gores_sewn_back_stay_off_the_dome_as_far_as_they_say(count, tmp_path):
    """Held all round on the dome's own sides and just blown up; without stretch, so that only its shape counts."""
    panel = dataclasses.replace(dome(), cloth=dataclasses.replace(shapes.PLAIN, strain_limit=0.02))
    result = made(panel, tuple(np.array([[0.0, y, 0.25]]) for y in np.linspace(-0.6, 0.6, count + 1)[1:-1]))
    off = sewn_dome(panel, result, tmp_path)
    sag = result.divided[0].sag
    assert 0.75 * sag < off.max() < sag
    if count >= 4:
        assert np.sqrt(np.mean(off**2)) <= 0.005
        assert off.max() <= 0.015


def sewn_dome(panel, result, folder):
    write_files(cut_files(result, papers=()), folder)
    parts = [part for part in result.parts if part.edges]
    read = back.read_parts(read_dxf(folder / f"{file_stem(panel.cloth.name)}.dxf"), parts)
    stiff = np.array([2e5, 1.6e5, 4e4, 2e4])
    meshes = [back.meshed(one, stiff, stiff) for one in read]
    sides, holds = {}, []
    for k, (part, (flat, along, _)) in enumerate(zip(parts, meshes, strict=True)):
        for edge, chain in zip(part.edges, along, strict=True):
            if edge.seam:
                sides.setdefault(edge.name, []).append((k, chain))
                continue
            line = panel.vertices[panel.edge(edge.name).vertices]
            whole = next(e.length for e in result.edges if e.name == edge.name)
            here = back.lengths(flat.points[chain])
            share = (edge.span[0] + here / here[-1] * (edge.span[1] - edge.span[0])) / whole
            holds.append(Hold(part=k, vertices=chain, places=back.at_places(line, share * back.lengths(line)[-1])))
    seams = tuple(Seam(first=a, second=b, chain=one, onto=two[::-1]) for (a, one), (b, two) in sides.values())
    blown = Loads(pressure=np.full(sum(len(flat.faces) for flat, _, _ in meshes), BLOWN))
    sewn = sew(tuple(flat for flat, _, _ in meshes), seams=seams, holds=tuple(holds), loads=blown)
    return back.distance_to(np.vstack(sewn.vertices), panel.vertices, panel.faces)


ACROSS = 'seams = [{ from = ["1.20 m", "%s m", "2.0 m"], to = ["2.60 m", "%s m", "2.0 m"] }]'
CURVED = """seams = [
  { from = ["1.2 m", "-0.35 m", "2 m"], through = [["1.86 m", "-0.25 m", "2 m"]], to = ["2.6 m", "-0.35 m", "2 m"] },
  { from = ["1.2 m", "0.35 m", "2 m"], through = [["1.86 m", "0.25 m", "2 m"]], to = ["2.6 m", "0.35 m", "2 m"] },
]"""


@pytest.mark.behaviour
def test_a_seam_runs_fair_through_the_places_its_design_gives():
    result = next(iter(cut(bimini.rigged(CURVED)).results.values()))
    mine = [part for part in result.parts if part.panel == "new bimini" and part.edges]
    assert len(mine) == 3
    for part in mine:
        texts = [Polygon(text_box(item)) for item in part.items if isinstance(item, Text)]
        assert "chafe patch 1" in {item.text for item in part.items if isinstance(item, Text)}
        assert all(not one.intersects(other) for k, one in enumerate(texts) for other in texts[:k])
    assert all(abs(seam.length_a - seam.length_b) < 0.002 for seam in result.seams)
    middle = next(part.vertices for part in result.strains if part.part == "new bimini 2 of 3")
    at_ends, between = (middle[np.abs(middle[:, 0] - x) < 0.06, 1] for x in (1.20, 1.86))
    assert np.ptp(at_ends) == pytest.approx(0.70, abs=0.03)
    assert np.ptp(between) == pytest.approx(0.50, abs=0.03)


@pytest.mark.behaviour
def test_the_design_decides_where_a_seam_runs_and_whether_there_is_one():
    off = next(iter(cut(bimini.rigged(ACROSS % ("0.20", "0.20"))).results.values()))
    pieces = [part for part in off.parts if part.panel == "new bimini" and part.edges]
    assert len(pieces) == 2
    assert sorted(round(float(np.ptp(part.finished[:, 1])), 1) for part in pieces) == [0.7, 1.0]
    with pytest.raises(DesignError) as found:
        cut(bimini.rigged("seams = []"))
    problems = {problem.code: problem for problem in found.value.problems}
    assert {"strain-over-limit", "part-wider-than-roll"} <= set(problems)


STEM = np.array([[0.1, -0.6, 0.15], [0.1, 0.0, 0.25]])


@pytest.mark.property
def test_a_seam_may_end_on_another_and_is_sewn_first():
    panel = dome(0.15)
    result = made(panel, (np.array([[0.0, 0.0, 0.15]]), STEM * [1, 1, 0.6]))
    assert len(result.parts) == 3
    bar, stem = sorted((seam for seam in result.seams), key=lambda seam: seam.name)
    assert abs(bar.length_a - bar.length_b) < 0.002
    assert abs(stem.length_a - stem.length_b) < 0.002
    assert stem.length_a == pytest.approx(bar.length_a / 2, rel=0.05)
    order = [step.does for step in sewing_order(result, finishes=FINISHES)]
    steps = [next(k for k, does in enumerate(order) if f'"{seam.name}"' in does) for seam in (stem, bar)]
    assert steps == sorted(steps)


def spot(x, y, z=0.15):
    return [x, y, z]


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("seams", "code"),
    [
        ([[spot(0, 3)]], "seam-off-panel"),
        ([[spot(0, 0.585, 0.0)]], "seam-near-edge"),
        ([[spot(0, 0)], [spot(0, 0)]], "seams-cross"),
        ([[spot(0, 0)], [spot(0, 0.02)]], "seam-near-edge"),
        ([[spot(0, 0)], [spot(0.1, -0.6, 0.09), spot(0.1, 0.6, 0.09)]], "seams-cross"),
        ([[spot(0, 0), spot(0.01, 0)]], "seam-too-short"),
        ([[spot(-0.6, 0, 0.09), spot(0.4, 0.2), spot(-0.3, -0.2), spot(0.6, 0, 0.09)]], "seam-turns-back"),
    ],
)
def test_seams_that_cannot_be_cut_are_named_with_what_to_change(seams, code):
    with pytest.raises(DesignError) as found:
        made(dome(0.15), tuple(np.array(one, dtype=float) for one in seams))
    assert {problem.code for problem in found.value.problems} == {code}
    assert all(problem.key.startswith('panel "dome", seam ') and problem.wanted for problem in found.value.problems)


@pytest.mark.behaviour
def test_a_seam_through_a_window_is_refused():
    plate = shapes.plate("plate", 1.2, 1.2, cells=(24, 24), cloth=shapes.PLAIN)
    zone = shapes.zone_of(plate, lambda x, y: (np.abs(x - 0.6) < 0.21) & (np.abs(y) < 0.21))
    panel = dataclasses.replace(plate, zone=zone, inserts=(Insert(name="look-out", zone=1, cloth=shapes.SHEET),))
    with pytest.raises(DesignError, match="a window in its way"):
        made(panel, (np.array([[0.6, 0.1, 0.0]]),))
    assert len([part for part in made(panel, (np.array([[0.6, 0.4, 0.0]]),)).parts if part.edges]) == 2


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ('seams = [{ from = ["1.2 m", "0 m", "2 m"] }]', "missing-key"),
        ('seams = [{ at = ["1.2 m", "0 m", "2 m"], to = ["1.2 m", "0 m", "2 m"] }]', "two-ways"),
        ('seams = ["no such mark"]', "unknown-mark"),
        ('seams = [{ from = "no such mark", to = ["1.2 m", "0 m", "2 m"] }]', "unknown-mark"),
        ('seams = [["1.2 m", "0 m"]]', "wrong-value"),
        ('seams = "many"', "unknown-choice"),
    ],
)
def test_seams_that_say_nothing_are_refused_with_their_line(asked, code):
    with pytest.raises(DesignError) as found:
        bimini.rigged(asked)
    (problem,) = found.value.problems
    line = bimini.design_text(asked).splitlines()[problem.line - 1]
    assert "seams" in line
    assert problem.code == code


@pytest.mark.behaviour
def test_cloth_that_cannot_lie_flat_is_named_with_its_panel():
    def trumpet(u, v):
        return np.exp(u) * np.cos(2 * v), np.exp(u) * np.sin(2 * v), 3 * np.sin(4 * u) * np.cos(3 * v)

    panel = shapes.panel("trumpet", trumpet, np.linspace(-1, 1, 12), np.linspace(-1.5, 1.5, 12))
    with pytest.raises(CouldNot, match=r'Panel "trumpet": .*folds over itself.*seam or a dart'):
        made(panel, ())
