"""Hold the lengths of seams and zips to what can be worked out by hand on flat plates."""

import dataclasses

import numpy as np
import pytest

from canvas.cutting.piece import Joint, Piece, PieceEdge
from canvas.cutting.seams import equal_lengths, notch_places, outline_targets, own_lengths, seam_lengths
from canvas.design.problems import DesignError
from tests.cutting import cut_shapes as shapes

WARP, WEFT = 0.998, 0.997  # what is left of a metre of the coated cloth along warp and weft


def zipped(length_a=1.0, length_b=1.0, *, measured=None, existing=(), cloth_b=shapes.PLAIN, **joint):
    """Return two plates, a's far edge (at its largest x) zipped to b's near edge, and the joint."""
    a = shapes.plate("a", 0.5, length_a, cells=(2, 4), existing="a" in existing)
    b = shapes.plate("b", 0.5, length_b, cells=(2, 5), at=0.5, cloth=cloth_b, existing="b" in existing)
    if measured is not None:
        name, size = measured
        panel = a if name == "a" else b
        edges = tuple(
            dataclasses.replace(edge, measured=size) if edge.name == ("far" if name == "a" else "near") else edge
            for edge in panel.edges
        )
        changed = dataclasses.replace(panel, edges=edges)
        a, b = (changed, b) if name == "a" else (a, changed)
    return [a, b], Joint(name="a to b", kind="zip", panel_a="a", edge_a="far", panel_b="b", edge_b="near", **joint)


def lengths_of(panels, joint):
    both = equal_lengths(panels, [joint])
    return both[("a", "far")], both[("b", "near")]


@pytest.mark.analytic
def test_own_lengths_are_those_of_the_cloth_made_smaller_along_warp_and_weft():
    plate = shapes.plate("a", 2.0, 1.0, cells=(4, 2))
    own = own_lengths(plate)
    assert set(own) == {("a", name) for name in ("low", "far", "high", "near")}
    assert np.allclose(own[("a", "low")].arc, [0.0, 0.5, 1.0, 1.5, 2.0])
    assert np.allclose(own[("a", "low")].flat, WARP * np.array([0.0, 0.5, 1.0, 1.5, 2.0]))
    assert np.allclose(own[("a", "far")].flat, WEFT * np.array([0.0, 0.5, 1.0]))
    assert own[("a", "far")].total == pytest.approx(WEFT)
    assert own[("a", "low")].at(np.array([0.25])) == pytest.approx(0.25 * WARP)
    with pytest.raises(ValueError, match="read-only"):
        own[("a", "low")].flat[0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        own[("a", "low")].arc[0] = 1.0


@pytest.mark.analytic
def test_two_new_sides_meet_at_the_mean_of_their_own_lengths():
    a, b = lengths_of(*zipped())
    assert a.total == pytest.approx((WEFT + 1.0) / 2, abs=1e-12)
    assert b.total == pytest.approx(a.total, abs=1e-12)
    assert np.all(np.diff(a.arc) > 0)
    assert a.arc[-1] == pytest.approx(1.0)
    wanted = np.unique(np.round([*np.linspace(0, 1, 5), *np.linspace(0, 1, 6)], 12))
    assert np.allclose(a.arc, wanted)  # the vertices of both sides, by share of length
    assert np.allclose(b.arc, wanted)
    assert np.allclose(a.flat, wanted * a.total)


@pytest.mark.analytic
@pytest.mark.parametrize("existing", ["a", "b"])
def test_an_existing_side_rules_and_stays_as_it_is(existing):
    a, b = lengths_of(*zipped(1.0, 1.01, existing=(existing,)))
    ruling = 1.0 if existing == "a" else 1.01
    assert (a.total, b.total) == (pytest.approx(ruling), pytest.approx(ruling))


@pytest.mark.analytic
@pytest.mark.parametrize("existing", ["a", "b"])
def test_the_zip_measured_aboard_is_the_length_that_rules(existing):
    a, b = lengths_of(*zipped(existing=(existing,), measured=(existing, 0.99)))
    assert (a.total, b.total) == (pytest.approx(0.99), pytest.approx(0.99))
    unheard_a, unheard_b = lengths_of(*zipped(measured=("b", 0.99)))  # b is new: it is cut, not measured
    assert unheard_a.total == pytest.approx((WEFT + 1.0) / 2)
    assert unheard_b.total == pytest.approx((WEFT + 1.0) / 2)


@pytest.mark.analytic
def test_ease_is_added_to_the_first_side_and_spread_evenly():
    a, b = lengths_of(*zipped(ease=0.02))
    assert a.total - b.total == pytest.approx(0.02, abs=1e-12)
    assert a.at(np.array([0.5])) == pytest.approx(a.total / 2)


@pytest.mark.behaviour
@pytest.mark.parametrize(("longer", "size_a", "size_b"), [("a", 1.05, 1.0), ("b", 1.0, 1.05)])
def test_sides_that_differ_by_more_than_two_in_a_hundred_are_refused_with_both_lengths(longer, size_a, size_b):
    panels, joint = zipped(size_a, size_b)
    with pytest.raises(DesignError) as refused:
        equal_lengths(panels, [joint, joint])
    first, second = refused.value.problems
    assert str(first) == str(second)
    assert first.code == "zip-unequal"
    assert first.key == 'zip "a to b"'
    assert first.found == f'{1000 * size_a * WEFT:.0f} mm on "a" and {1000 * size_b:.0f} mm on "b"'
    assert f'"{longer}" by {1000 * abs(size_a * WEFT - size_b):.0f} mm' in first.wanted


@pytest.mark.analytic
@pytest.mark.parametrize("longer", ["a", "b"])
@pytest.mark.parametrize(("size", "refused"), [(1.0199, False), (1.0215, True)])
def test_two_in_a_hundred_of_the_longer_side_is_the_limit(size, refused, longer):
    panels, joint = zipped(*((size, 1.0) if longer == "a" else (1.0, size)), existing=("a", "b"))
    if refused:
        with pytest.raises(DesignError):
            equal_lengths(panels, [joint])
    else:
        lengths = equal_lengths(panels, [joint])
        assert lengths[("a", "far")].total == pytest.approx(size if longer == "a" else 1.0)
        assert lengths[("b", "near")].total == pytest.approx(size if longer == "b" else 1.0)


@pytest.mark.analytic
@pytest.mark.parametrize("span", [(0.75, 0.25), (0.25, 0.75), (1.0, 0.5), (0.0, 0.5)])
@pytest.mark.parametrize("uneven", [False, True])
def test_a_side_joined_along_part_of_an_edge_keeps_the_rest_of_that_edge(span, uneven):
    panels, joint = zipped(1.0, 2.01, span_b=span)
    if uneven:  # a quadratic spacing along b's edge, so that shares of length and of vertices differ
        v = panels[1].vertices.copy()
        v[:, 1] = 2.01 * (((v[:, 1] + 1.005) / 2.01) ** 2) - 1.005
        panels[1] = dataclasses.replace(panels[1], vertices=v)
    both = equal_lengths(panels, [joint])
    a, b = both[("a", "far")], both[("b", "near")]
    common = (WEFT + 2.01 * 0.5) / 2
    assert a.total == pytest.approx(common, abs=1e-9)
    low, high = sorted(span)
    start, stop = b.at(np.array([low, high]) * 2.01)
    assert stop - start == pytest.approx(common, abs=1e-9)
    assert start == pytest.approx(low * 2.01, abs=1e-9)
    assert b.total == pytest.approx(common + 2.01 * 0.5, abs=1e-9)
    assert np.all(np.diff(b.arc) > 0)
    assert b.arc[0] == 0.0
    assert b.arc[-1] == pytest.approx(2.01)
    outside = (b.arc <= low * 2.01) | (b.arc >= high * 2.01)
    rest = np.where(b.arc <= low * 2.01, b.arc, b.arc + common - 2.01 * 0.5)
    assert np.allclose(b.flat[outside], rest[outside], atol=1e-9)
    own = panels[1].vertices[panels[1].edge("near").vertices]
    ends = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(own, axis=0), axis=1))])
    kept = ends[(ends < low * 2.01 - 1e-6) | (ends > high * 2.01 + 1e-6)]
    assert all(np.abs(b.arc - place).min() < 1e-9 for place in kept)  # no vertex outside the joint is lost
    joined = (ends[(ends > low * 2.01 + 1e-6) & (ends < high * 2.01 - 1e-6)] / 2.01 - span[0]) / (span[1] - span[0])
    shares = np.union1d(np.linspace(0, 1, 5), joined.round(12))  # the vertices of both, and no others, lie on both
    assert np.allclose(a.arc, shares, atol=1e-9)
    inside = (b.arc >= low * 2.01 - 1e-9) & (b.arc <= high * 2.01 + 1e-9)
    assert np.allclose(np.sort((b.arc[inside] / 2.01 - span[0]) / (span[1] - span[0])), shares, atol=1e-9)


@pytest.mark.analytic
def test_the_other_way_round_pairs_the_first_corner_with_the_last():
    """b's own cloth is uneven: its first half is stretched, which must come out at a's other end."""
    panels, joint = zipped(1.0, 1.0)
    a, _ = lengths_of(panels, joint)
    uneven = dataclasses.replace(
        panels[1], cloth=shapes.COATED, warp=np.where(
            (panels[1].vertices[panels[1].faces].mean(axis=1)[:, 1] > 0)[:, None], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]
        ),
    )  # fmt: skip
    own = own_lengths(uneven)[("b", "near")]
    assert own.at(np.array([0.4])) != pytest.approx(own.total - own.at(np.array([0.6])), abs=1e-5)
    back, _ = lengths_of([panels[0], uneven], joint)
    along, _ = lengths_of([panels[0], uneven], dataclasses.replace(joint, span_b=(0.0, 1.0)))
    for place in (0.2, 0.4, 0.8):
        here = np.array([place])
        assert back.at(here) == pytest.approx((WEFT * place + own.total - own.at(1 - here)) / 2, abs=1e-12)
        assert along.at(here) == pytest.approx((WEFT * place + own.at(here)) / 2, abs=1e-12)
    assert a.total == pytest.approx((WEFT + 1) / 2)


def two_pieces():
    """Return a plate cut in two along y = 0, and the panel; the lower piece's warp turns at half its length."""
    whole = shapes.plate("roof", 1.0, 1.0, cells=(4, 2))
    v, middle = whole.vertices, whole.vertices[whole.faces].mean(axis=1)
    pieces = []
    for k, inside in enumerate((middle[:, 1] < 0, middle[:, 1] > 0)):
        kept = np.unique(whole.faces[inside])
        faces = np.searchsorted(kept, whole.faces[inside])
        warp_along = (middle[inside, 0] < 0.5) & (k == 0)
        x, y = v[kept, 0], v[kept, 1]
        seam, rim = (np.flatnonzero(at) for at in (np.abs(y) < 1e-9, np.abs(y) > 0.4))
        seam, rim = (seam[::-1], rim) if k == 0 else (seam, rim[::-1])  # counter-clockwise round each piece
        edges = (
            PieceEdge(name="seam 1", finish="seam", vertices=seam, arc=x[seam], seam=True),
            PieceEdge(name=("low", "high")[k], finish="hem", vertices=rim, arc=x[rim] if k == 0 else 1.0 - x[rim]),
        )
        pieces.append(
            Piece(
                panel="roof", name=f"roof {k + 1}", vertices=v[kept], faces=faces, edges=edges,
                warp=np.where(warp_along[:, None], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
                zone=np.zeros(len(faces), dtype=int),
            )
        )  # fmt: skip
    return pieces, whole


@pytest.mark.analytic
def test_a_seam_is_the_mean_of_the_cloth_on_its_two_sides_place_by_place():
    pieces, whole = two_pieces()
    seam = seam_lengths(pieces, whole)["seam 1"]
    assert np.allclose(seam.arc, [0.0, 0.25, 0.5, 0.75, 1.0])
    first, second = (WARP + WEFT) / 2, WEFT
    wanted = [0.0, 0.25 * first, 0.5 * first, 0.5 * first + 0.25 * second, 0.5 * (first + second)]
    assert np.allclose(seam.flat, wanted, atol=1e-12)
    assert list(seam_lengths(pieces, whole)) == ["seam 1"]


@pytest.mark.analytic
def test_outline_edges_get_the_length_of_their_seam_or_edge_whichever_way_they_run():
    pieces, whole = two_pieces()
    seams = seam_lengths(pieces, whole)
    targets = outline_targets(pieces, panel=whole, lengths=own_lengths(whole), seams=seams)
    assert len(targets) == 2
    for piece, wanted in zip(pieces, targets, strict=True):
        assert len(wanted) == 8
        for (i, j), size in wanted.items():
            assert i < j
            step = abs(piece.vertices[i, 0] - piece.vertices[j, 0])
            assert step == pytest.approx(0.25)
            if abs(piece.vertices[i, 1]) < 1e-9:
                at = 0.5 * (piece.vertices[i, 0] + piece.vertices[j, 0])
                assert size == pytest.approx(step * ((WARP + WEFT) / 2 if at < 0.5 else WEFT), abs=1e-12)
            else:
                assert size == pytest.approx(step * WARP, abs=1e-12)


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("length", "spaces"), [(0.3, 2), (0.9, 2), (1.1, 2), (1.13, 3), (1.57, 3), (1.58, 4), (4.5, 10)]
)
def test_match_marks_stand_at_spaces_that_grow_by_a_fifth_and_more(length, spaces):
    places = notch_places(length)
    assert len(places) == spaces - 1
    gaps = np.diff([0.0, *places, length])
    assert np.allclose(gaps[1:] / gaps[:-1], 1.22)
    assert gaps.sum() == pytest.approx(length)
