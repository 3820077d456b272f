"""Check tube frames against beams, portals and arches in closed form, and what cannot stand."""

import re

import numpy as np
import pytest

from canvas.design.tables import metals
from canvas.jobs.failure import CouldNot
from canvas.strength.frames import solve_tube, tube_section

DIAMETER, WALL, E = 0.025, 0.0015, 200e9
INERTIA = np.pi / 64 * (DIAMETER**4 - (DIAMETER - 2 * WALL) ** 4)
STEEL = metals()["stainless"]


def solved(line, loads, *, feet, held=None):
    (result,) = solve_tube(line, [loads], diameter=DIAMETER, wall=WALL, metal=STEEL, feet=feet, held=held)
    return result


def arch(count=400):
    angle = np.linspace(np.pi, 0, count + 1)
    return np.c_[np.zeros(count + 1), np.cos(angle), np.sin(angle)]


def portal(h=1.2, w=2.0, step=0.01):
    up = np.arange(0, h, step)
    across = np.arange(0, w, step)
    legs = np.c_[np.zeros(len(up)), np.full(len(up), -w / 2), up]
    beam = np.c_[np.zeros(len(across)), -w / 2 + across, np.full(len(across), h)]
    down = np.c_[np.zeros(len(up) + 1), np.full(len(up) + 1, w / 2), h - np.arange(0, h + step / 2, step)]
    return np.vstack([legs, beam, down])


def rows(table, case):
    return {row["quantity"]: row["value"] for row in table.rows if row["case"] == case}


@pytest.mark.published
def test_two_hinged_and_fixed_arches_under_a_crown_load(published):
    table = published("strength/arch_cases")
    hinged, fixed = (rows(table, f"{kind} semicircle, crown load P") for kind in ("two-hinged", "fixed"))
    line = arch()
    loads = np.zeros_like(line)
    loads[len(line) // 2, 2] = -100.0
    share = table.tolerance("value")
    found = solved(line, loads, feet="hinged")
    assert found.moment / 100 == pytest.approx(hinged["M_crown_over_PR"], rel=share)
    assert abs(found.foot_forces[0, 1]) / 100 == pytest.approx(hinged["H_over_P"], rel=share)
    assert found.sway * E * INERTIA / 100 == pytest.approx(hinged["crown_deflection_EI_over_PR3"], rel=share)
    found = solved(line, loads, feet="fixed")
    assert found.moment / 100 == pytest.approx(fixed["M_crown_over_PR"], rel=share)
    assert abs(found.foot_forces[0, 1]) / 100 == pytest.approx(fixed["H_over_P"], rel=share)


@pytest.mark.published
def test_portal_with_a_side_load(published):
    table = published("strength/beam_cases")
    line = portal()
    loads = np.zeros_like(line)
    loads[int(np.argmax(line[:, 2] >= 1.2 - 1e-9)), 1] = 300.0
    share = table.tolerance("value")
    pinned = rows(table, "portal pinned feet, side load at beam")
    assert solved(line, loads, feet="hinged").moment == pytest.approx(pinned["corner_moment"], rel=share)
    stiff = rows(table, "portal fixed feet, side load at beam")
    assert solved(line, loads, feet="fixed").moment == pytest.approx(stiff["foot_moment"], rel=share)


@pytest.mark.published
def test_a_davit_that_stands_on_one_foot_is_a_cantilever(published):
    table = published("strength/beam_cases")
    share = table.tolerance("value")
    end = rows(table, "cantilever end load")
    line = np.c_[np.zeros(81), np.zeros(81), np.linspace(0, 0.8, 81)]
    loads = np.zeros_like(line)
    loads[-1, 1] = 100.0
    (found,) = solve_tube(
        line, [loads], diameter=DIAMETER, wall=WALL, metal=STEEL, feet="hinged", free_end=True, name="davit"
    )
    assert found.moment == pytest.approx(end["moment"], rel=share)
    assert found.sway == pytest.approx(end["tip_deflection"], rel=share)
    assert found.stress == pytest.approx(end["bending_stress"], rel=share)
    assert found.foot_forces[1] == pytest.approx([0, 0, 0], abs=1e-6)


@pytest.mark.published
def test_section_constants_equal_the_table(published):
    table = published("strength/tube_sections")
    for row in table.rows:
        section = tube_section(diameter=row["od_mm"] / 1000, wall=row["wall_mm"] / 1000)
        assert section.inertia * 1e12 == pytest.approx(row["I_mm4"], rel=table.tolerance("I_mm4"))
        assert section.area * 1e6 == pytest.approx(row["area_mm2"], rel=table.tolerance("area_mm2"))


@pytest.mark.analytic
@pytest.mark.parametrize(("diameter", "wall"), [(25.0, 1.5), (22.0, 1.2), (63.5, 3.2)])
def test_section_constants_equal_an_independent_mesh_of_the_section(diameter, wall):
    from sectionproperties.analysis import Section
    from sectionproperties.pre.library import circular_hollow_section

    outline = circular_hollow_section(d=diameter, t=wall, n=512)
    outline.create_mesh(mesh_sizes=[wall])
    mesh = Section(outline)
    mesh.calculate_geometric_properties()
    section = tube_section(diameter=diameter / 1000, wall=wall / 1000)
    assert section.area * 1e6 == pytest.approx(mesh.get_area(), rel=1e-3)
    assert section.inertia * 1e12 == pytest.approx(mesh.get_ic()[0], rel=1e-3)
    assert section.modulus * 1e9 == pytest.approx(mesh.get_z()[0], rel=1e-3)


@pytest.mark.analytic
@pytest.mark.parametrize("feet", ["hinged", "fixed"])
def test_a_raked_hoop_under_any_loads_is_that_of_an_independent_program(feet):
    from Pynite import FEModel3D

    angle = np.linspace(np.pi, 0.0, 21)
    line = np.c_[0.4 * np.sin(angle) + 0.1 * angle**2, np.cos(angle), 1.2 * np.sin(angle)]
    loads = np.random.default_rng(3).normal(scale=40.0, size=line.shape)
    held = np.arange(len(line)) == 7
    shear = STEEL.youngs_modulus / 2.6
    area = np.pi / 4 * (DIAMETER**2 - (DIAMETER - 2 * WALL) ** 2)
    model = FEModel3D()
    model.add_material("metal", STEEL.youngs_modulus, shear, 0.3, STEEL.density)
    model.add_section("tube", area, INERTIA, INERTIA, 2 * INERTIA)
    for k, place in enumerate(line):
        model.add_node(f"N{k}", *map(float, place))
        for way, force in zip("XYZ", loads[k], strict=True):
            model.add_node_load(f"N{k}", f"F{way}", float(force))
    for k in range(len(line) - 1):
        model.add_member(f"M{k}", f"N{k}", f"N{k + 1}", "metal", "tube")
    for k in (0, len(line) - 1):
        model.def_support(f"N{k}", True, True, True, feet == "fixed", feet == "fixed", True)
    model.def_support("N7", True)
    model.analyze_linear()
    (combo,) = model.load_combos
    moves = np.array([[node.DX[combo], node.DY[combo], node.DZ[combo]] for node in model.nodes.values()])
    pushes = np.array([[node.RxnFX[combo], node.RxnFY[combo], node.RxnFZ[combo]] for node in model.nodes.values()])
    moments = [np.hypot(one.moment("My", x * one.L(), combo), one.moment("Mz", x * one.L(), combo))
               for one in model.members.values() for x in (0.0, 1.0)]  # fmt: skip
    found = solved(line, loads, feet=feet, held=held)
    assert found.moment == pytest.approx(max(moments), rel=1e-6)
    assert found.sway == pytest.approx(np.linalg.norm(moves, axis=1).max(), rel=1e-6)
    assert found.foot_forces == pytest.approx(-pushes[[0, -1]], rel=1e-6, abs=1e-6)
    assert found.held_forces == pytest.approx(-pushes[[7]], rel=1e-6, abs=1e-6)


@pytest.mark.analytic
def test_stress_is_moment_over_modulus_plus_axial():
    line = arch()
    loads = np.zeros_like(line)
    loads[len(line) // 2, 2] = -100.0
    found = solved(line, loads, feet="hinged")
    bending = found.moment * DIAMETER / 2 / INERTIA
    assert bending < found.stress < 1.1 * bending
    assert found.share == pytest.approx(found.stress / STEEL.yield_stress)


@pytest.mark.behaviour
def test_twice_the_load_is_twice_the_moment_and_a_strap_takes_what_pulls_aft():
    line = arch(100)
    loads = np.zeros_like(line)
    loads[50, 0] = 100.0
    held = np.zeros(len(line), dtype=bool)
    held[50] = True
    one, two = solve_tube(line, [loads, 2 * loads], diameter=DIAMETER, wall=WALL, metal=STEEL, feet="hinged", held=held)
    assert np.linalg.norm(two.held_forces) == pytest.approx(2 * np.linalg.norm(one.held_forces))
    assert np.linalg.norm(one.held_forces) == pytest.approx(100.0, rel=1e-6)


@pytest.mark.behaviour
@pytest.mark.parametrize("wall", [0.0, -0.001, 0.02])
def test_a_wall_that_makes_no_tube_is_said(wall):
    line = arch(20)
    with pytest.raises(CouldNot, match=re.escape(f'"bow" has a wall of {wall * 1000:.1f} mm')):
        solve_tube(line, [np.zeros_like(line)], diameter=DIAMETER, wall=wall, metal=STEEL, feet="fixed", name="bow")


@pytest.mark.behaviour
def test_a_hinged_hoop_that_nothing_holds_is_said():
    line = arch(40)
    loads = np.zeros_like(line)
    loads[20, 0] = 100.0
    with pytest.raises(CouldNot, match="is not held"):
        solved(line, loads, feet="hinged")
