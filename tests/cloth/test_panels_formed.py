"""What forming does with panels: corners, hollows, shared edges, bows, battens, ties, windows, slits, flat cloth."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from canvas.cloth import Pretension, form
from canvas.cloth.faces import rim_of
from canvas.cloth.lines import locate
from canvas.cloth.triangulate import NoMesh, triangulate
from canvas.cutting.flatten import flatten
from canvas.geometry.outline import Batten, Insert, PanelEdge, PanelOutline, Pierced, Tie, Wire
from canvas.jobs.failure import CouldNot
from tests.cloth.cloth_shapes import hoop, roof, straight

FORE, AFT = hoop(0.0, width=1.8, height=0.5), hoop(1.5, width=1.7, height=0.45)
GUARD = np.array([[2.6, -0.7, 1.3], [2.6, 0.7, 1.3]])


def tent_roof(**more):
    """Return a roof from the aft hoop to two marks, its leech with a batten."""
    return PanelOutline(
        name="tent roof",
        cloth="coated polyester 300",
        edges=(
            PanelEdge(name="forward", line=AFT, kind="held"),
            PanelEdge(name="starboard", line=straight(AFT[-1], GUARD[1]), kind="free", hollow=0.03),
            PanelEdge(name="leech", line=GUARD[::-1], kind="free", batten=Batten(bending=190.0)),
            PanelEdge(name="port", line=straight(GUARD[0], AFT[0]), kind="free", hollow=0.03),
        ),
        **more,
    )


def tent_side():
    """Return a side curtain zipped to the tent roof's starboard edge."""
    foot_aft, foot_fore = np.array([2.6, 0.7, 0.6]), np.array([1.5, 0.85, 0.6])
    return PanelOutline(
        name="tent side",
        cloth="coated polyester 300",
        edges=(
            PanelEdge(name="top", line=straight(GUARD[1], AFT[-1]), kind="shared"),
            PanelEdge(name="forward", line=straight(AFT[-1], foot_fore), kind="held"),
            PanelEdge(name="foot", line=straight(foot_fore, foot_aft), kind="held"),
            PanelEdge(name="aft", line=straight(foot_aft, GUARD[1]), kind="free", hollow=0.02),
        ),
    )


def formed(*outlines, **more):
    """Return the panels formed together."""
    return form(outlines, set_name="a set", **more)


def edge_named(panel, name):
    """Return the shape of one edge."""
    return next(edge for edge in panel.edges if edge.name == name)


def close(face):
    """Return the sides of a face, each with its smaller vertex first."""
    a, b, c = face
    return [tuple(sorted(pair)) for pair in ((a, b), (b, c), (c, a))]


@pytest.mark.behaviour
@pytest.mark.parametrize("hollow", [0.02, 0.05, 0.1])
def test_hollow_comes_out_as_asked(hollow):
    panel = formed(roof(FORE, AFT, hollow=hollow)).panels[0]
    for name in ("port", "starboard"):
        assert abs(edge_named(panel, name).hollow - hollow) <= min(0.003, 0.02 * hollow)
        assert edge_named(panel, name).cable_force > 0


@pytest.mark.behaviour
def test_corners_equal_marks_and_held_edges_their_tubes():
    outline = roof(FORE, AFT)
    panel = formed(outline).panels[0]
    for edge, line in zip(outline.edges, panel.edge_vertices, strict=True):
        np.testing.assert_array_equal(panel.vertices[line[[0, -1]]], edge.line[[0, -1]])
    _, off = locate(FORE, panel.vertices[panel.edge_vertices[0]])
    assert off.max() < 1e-9


@pytest.mark.behaviour
def test_mesh_is_one_sheet_in_the_outline_s_order():
    panel = formed(roof(FORE, AFT)).panels[0]
    sides, count = np.unique(
        [side for face in panel.faces.tolist() for side in close(face)], axis=0, return_counts=True
    )
    assert count.max() == 2
    rim = np.concatenate([line[:-1] for line in panel.edge_vertices])
    np.testing.assert_array_equal(rim, np.arange(len(rim)))
    assert set(rim.tolist()) == set(rim_of(panel.faces).tolist())
    for line, after in pairwise((*panel.edge_vertices, panel.edge_vertices[0])):
        assert line[-1] == after[0]
    once = {tuple(side) for side in sides[count == 1].tolist()}
    assert once == {tuple(sorted(pair)) for pair in pairwise([*rim.tolist(), 0])}
    corner = panel.vertices[panel.faces]
    up = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    assert up[:, 2].sum() > 0


@pytest.mark.behaviour
def test_finer_tolerance_gives_a_finer_mesh_and_the_same_shape():
    coarse = formed(roof(FORE, AFT), tolerance=2e-3).panels[0]
    fine = formed(roof(FORE, AFT), tolerance=5e-4).panels[0]
    assert len(fine.faces) > 2 * len(coarse.faces)
    assert fine.area() == pytest.approx(coarse.area(), rel=2e-3)


@pytest.mark.behaviour
def test_panels_that_share_an_edge_share_its_vertices():
    top, side = formed(tent_roof(), tent_side()).panels
    along = top.vertices[top.edge_vertices[1]]
    np.testing.assert_array_equal(along[::-1], side.vertices[side.edge_vertices[0]])


@pytest.mark.behaviour
def test_two_cloths_on_one_edge_straighten_it():
    alone = formed(tent_roof()).panels[0]
    together = formed(tent_roof(), tent_side()).panel("tent roof")
    assert edge_named(together, "starboard").hollow < 0.6 * edge_named(alone, "starboard").hollow


@pytest.mark.behaviour
def test_forces_on_a_free_shared_edge_balance():
    top, side = formed(tent_roof(), tent_side()).panels
    shared, other = edge_named(top, "starboard"), edge_named(side, "top")
    assert shared.line_tension == pytest.approx(60.0, rel=0.05)
    assert other.line_tension == pytest.approx(60.0, rel=0.05)


@pytest.mark.behaviour
def test_shared_edge_may_be_part_of_another():
    side, corner = tent_side(), (GUARD[1] + AFT[-1]) / 2
    short = replace(
        side,
        edges=(
            PanelEdge(name="top", line=straight(GUARD[1], corner), kind="shared"),
            PanelEdge(name="forward", line=straight(corner, [2.05, 0.8, 0.6]), kind="free", hollow=0.02),
            PanelEdge(name="foot", line=straight([2.05, 0.8, 0.6], [2.6, 0.7, 0.6]), kind="held"),
            side.edges[3],
        ),
    )
    top, part = formed(tent_roof(), short).panels
    along = {tuple(v) for v in top.vertices[top.edge_vertices[1]]}
    assert all(tuple(v) in along for v in part.vertices[part.edge_vertices[0]])


@pytest.mark.behaviour
def test_shared_edge_whose_panel_is_not_up_is_hollowed():
    side = formed(tent_side()).panels[0]
    top = edge_named(side, "top")
    assert top.cable_force > 0
    assert top.hollow == pytest.approx(0.03 * top.chord, rel=0.02)


@pytest.mark.behaviour
def test_cloth_lies_on_a_bow_that_stands_out_and_clears_one_that_does_not():
    plain = formed(roof(FORE, AFT)).panels[0]
    high = hoop(0.75, width=1.9, height=0.6)
    low = hoop(0.75, width=0.9, height=0.2)
    lifted = formed(roof(FORE, AFT, over=(high,))).panels[0]
    clear = formed(roof(FORE, AFT, over=(low,))).panels[0]
    assert lifted.touching[0][1:-1].all()
    assert lifted.vertices[:, 2].max() > plain.vertices[:, 2].max() + 0.04
    assert not clear.touching[0].any()
    assert clear.area() == pytest.approx(plain.area(), rel=2e-3)
    _, off = locate(high, lifted.vertices[lifted.over[0][1:-1]])
    assert off.max() < 1e-4


@pytest.mark.behaviour
def test_free_edge_slides_along_the_bow_it_crosses():
    straight_bow = straight([0.75, -1.2, 1.6], [0.75, 1.2, 1.6])
    corners = np.array([[0, -0.8, 1.5], [0, 0.8, 1.5], [1.5, 0.8, 1.5], [1.5, -0.8, 1.5]])
    outline = roof(
        straight(corners[0], corners[1]), straight(corners[3], corners[2]), hollow=0.06, over=(straight_bow,)
    )
    panel = formed(outline).panels[0]
    assert abs(edge_named(panel, "port").hollow - 0.06) <= 0.0012
    ends = panel.vertices[panel.over[0][[0, -1]]]
    assert np.abs(ends[:, 1]).max() < 0.76  # drawn in from the straight edge at 0.8
    assert panel.touching[0].all()


@pytest.mark.behaviour
def test_batten_keeps_the_leech_within_a_hundredth_of_straight():
    panel = formed(tent_roof()).panels[0]
    leech = edge_named(panel, "leech")
    assert leech.cable_force is None
    assert abs(leech.hollow) <= 0.0125 * leech.chord


@pytest.mark.behaviour
def test_stiffer_batten_bends_less():
    def hollow(bending):
        edges = list(tent_roof().edges)
        edges[2] = replace(edges[2], batten=Batten(bending=bending))
        return edge_named(formed(replace(tent_roof(), edges=tuple(edges))).panels[0], "leech").hollow

    assert hollow(4000.0) < 0.3 * hollow(400.0)


@pytest.mark.behaviour
def test_wire_set_up_hard_runs_straighter():
    def with_wire(force):
        edges = list(roof(FORE, AFT).edges)
        edges[1] = replace(edges[1], hollow=None, wire=Wire(force=force))
        return formed(replace(roof(FORE, AFT), edges=tuple(edges))).panels[0]

    slack, hard = edge_named(with_wire(300.0), "starboard"), edge_named(with_wire(1500.0), "starboard")
    assert hard.hollow < 0.35 * slack.hollow
    assert hard.cable_force == pytest.approx(1500.0)


@pytest.mark.behaviour
def test_tie_inside_the_cloth_is_where_its_mark_is_and_bears_load():
    at = np.array([2.2, 0.0, 1.5])
    panel = formed(tent_roof(ties=(Tie(name="guard top", at=at),))).panels[0]
    np.testing.assert_allclose(panel.vertices[panel.ties[0]], at, atol=1e-12)
    assert panel.tie_forces[0] > 1.0


@pytest.mark.behaviour
def test_wire_that_pierces_does_not_load_the_cloth():
    plain = formed(roof(FORE, AFT)).panels[0]
    at = np.array([1.0, 0.1, 1.6])
    slit = np.array([[1.0, 0.1, 1.6], [1.25, 0.1, 1.62], [1.5, 0.1, 1.65]])
    panel = formed(roof(FORE, AFT, pierced=(Pierced(name="backstay", at=at, slit=slit),))).panels[0]
    assert panel.area() == pytest.approx(plain.area(), rel=1e-3)
    chain = panel.slits[0]
    assert len(chain) > 3
    assert chain[-1] in panel.edge_vertices[2]
    sides = {side for face in panel.faces.tolist() for side in close(face)}
    assert all(tuple(sorted(pair)) in sides for pair in pairwise(chain.tolist()))


@pytest.mark.behaviour
def test_window_is_a_zone_of_its_own_size():
    outline = np.array([[0.4, -0.3, 1.65], [0.4, 0.3, 1.65], [1.0, 0.3, 1.65], [1.0, -0.3, 1.65]])
    panel = formed(roof(FORE, AFT, inserts=(Insert(name="window", outline=outline),))).panels[0]
    corner = panel.vertices[panel.faces[panel.zone == 1]]
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1).sum() / 2
    assert panel.zone_names == ("cloth", "window")
    assert area == pytest.approx(0.36, rel=0.04)


@pytest.mark.behaviour
def test_more_pull_one_way_bends_the_other_less():
    def sag(warp, weft):
        panel = formed(roof(FORE, AFT), tensions={"roof": Pretension(warp=warp, weft=weft)}).panels[0]
        middle = np.abs(panel.vertices[:, 1]) < 0.2
        return panel.vertices[middle, 2].min()

    assert sag(90.0, 30.0) > sag(60.0, 60.0) > sag(30.0, 90.0)


@pytest.mark.behaviour
def test_flat_cloth_unrolls_without_strain():
    outline = roof(FORE, AFT, hollow=0.03, flat=True)
    panel = formed(outline).panels[0]
    assert edge_named(panel, "port").hollow == pytest.approx(0.03, abs=1e-3)
    bent = formed(roof(FORE, AFT)).panels[0]
    assert abs(curvature(panel)) < 0.08 * abs(curvature(bent))
    strain, strain_bent = (flatten(one.vertices, one.faces, warp=one.warp) for one in (panel, bent))
    assert strain.strain_inside_most < 0.01  # what a limit is held against
    assert strain.strain_inside_max < 0.02 * strain_bent.strain_inside_max  # at the tips of corners too


def curvature(panel):
    """Return the whole of what the angles at inner vertices miss of a full turn: none where cloth can unroll."""
    corner = panel.vertices[panel.faces]
    total = np.zeros(len(panel.vertices))
    for k in range(3):
        one, two = corner[:, (k + 1) % 3] - corner[:, k], corner[:, (k + 2) % 3] - corner[:, k]
        cosine = np.einsum("ij,ij->i", one, two) / np.linalg.norm(one, axis=1) / np.linalg.norm(two, axis=1)
        np.add.at(total, panel.faces[:, k], np.arccos(np.clip(cosine, -1, 1)))
    inner = np.setdiff1d(np.arange(len(total)), rim_of(panel.faces))
    return (2 * np.pi - total[inner]).sum()


@pytest.mark.behaviour
def test_existing_edge_with_nothing_to_keep_it_stays_as_measured():
    edges = list(roof(FORE, AFT).edges)
    edges[1] = replace(edges[1], hollow=None)
    panel = formed(replace(roof(FORE, AFT), edges=tuple(edges))).panels[0]
    line = panel.vertices[panel.edge_vertices[1]]
    assert np.abs(np.cross(line - line[0], line[-1] - line[0])).max() < 1e-9


@pytest.mark.behaviour
def test_same_input_same_bytes():
    one, two = (formed(tent_roof(), tent_side()) for _ in range(2))
    for a, b in zip(one.panels, two.panels, strict=True):
        assert a.vertices.tobytes() == b.vertices.tobytes()
        assert a.faces.tobytes() == b.faces.tobytes()


@pytest.mark.behaviour
def test_shape_without_balance_is_said():
    with pytest.raises(CouldNot, match='Panel "roof" in set "a set": edge .* cannot have the hollow asked for'):
        formed(roof(FORE, AFT, hollow=1.6))


@pytest.mark.behaviour
def test_window_over_a_bow_keeps_both():
    level = roof(straight([0, -1, 1], [0, 1, 1]), straight([1, -1, 1], [1, 1, 1]))
    window = np.array([[0.2, -0.5, 1], [0.8, -0.5, 1], [0.8, 0.5, 1], [0.2, 0.5, 1]])
    bow = straight([0.47, -1.2, 1.0], [0.53, 1.2, 1.0])
    panel = formed(replace(level, over=(bow,), inserts=(Insert(name="window", outline=window),))).panels[0]
    corner = panel.vertices[panel.faces[panel.zone == 1]]
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1).sum() / 2
    assert area == pytest.approx(0.6, rel=0.02)
    sides = {side for face in panel.faces.tolist() for side in close(face)}
    assert all(tuple(sorted(pair)) in sides for pair in pairwise(panel.over[0].tolist()))


@pytest.mark.behaviour
def test_lines_that_cross_in_the_plane_are_said():
    with pytest.raises(NoMesh, match="a line that crosses another"):
        triangulate(
            np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]]),
            spacing=0.3,
            lines=(np.array([4, 5]), np.array([6, 7])),
            inner=np.array([[0.2, 0.2], [0.8, 0.8], [0.2, 0.8], [0.8, 0.2]]),
        )


@pytest.mark.behaviour
def test_nothing_up_is_nothing_formed():
    assert form((), set_name="bare").panels == ()
