"""Elastic cloth against closed forms: circle, strips, tubes, cables, hypar, ponding."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.cloth.elastic import settle
from canvas.cloth.loads import WATER, Loads
from canvas.cloth.membrane import ElasticLine, Membrane
from canvas.cloth.pool import follow_pool, ponding, standing_levels, water_volume
from tests.cloth.cloth_shapes import disc, grid, sheet, square

PRESSURE = 328.25


def by_case(table, case, quantity, inputs=""):
    """Return one value of membrane_cases."""
    found = [r["value"] for r in table.rows if r["case"] == case and r["quantity"] == quantity]
    if inputs:
        found = [
            r["value"] for r in table.rows if r["case"] == case and r["quantity"] == quantity and r["inputs"] == inputs
        ]
    assert len(found) == 1
    return found[0]


@pytest.mark.published
@pytest.mark.parametrize("nu", [0.2, 0.25, 0.3, 0.34, 0.4])
def test_clamped_circle(published, nu):
    table = published("cloth/membrane_cases")
    share = table.tolerance("value")
    vertices, faces, held = disc(90)
    stiffness, load = 2e5, 300.0
    found = settle(
        sheet(vertices, faces, held, stiffness=stiffness, nu=nu),
        vertices,
        loads=Loads(pressure=np.full(len(faces), load)),
    )
    case, inputs = "clamped circular membrane, no pretension (Hencky)", f"nu={nu}"
    sag = found.vertices[:, 2].max() * (stiffness / load) ** (1 / 3)
    wanted = by_case(table, case, "w0/a * (Et/(q a))^(1/3)", inputs)
    assert abs(sag - wanted) <= share * wanted
    scale = (stiffness * load**2) ** (1 / 3)
    from_middle = np.linalg.norm(vertices[faces].mean(axis=1)[:, :2], axis=1)
    centre = found.stress[from_middle < 0.1][:, :2].mean() / scale
    wanted = by_case(table, case, "N_centre/(E t q^2 a^2)^(1/3)", inputs)
    assert abs(centre - wanted) <= share * wanted
    rim = found.reactions[held]
    outward = np.einsum("ij,ij->i", rim, vertices[held])
    lift = rim[:, 2]
    edge = np.hypot(outward, lift).sum() / (2 * np.pi) / scale
    wanted = by_case(table, case, "N_edge/(E t q^2 a^2)^(1/3)", inputs)
    assert abs(edge - wanted) <= share * wanted


@pytest.mark.published
@pytest.mark.parametrize(
    ("case", "pretension"), [("flat strip, no pretension, linear cloth", 0.0), ("flat strip, pretension 1 kN/m", 1e3)]
)
def test_long_strip(published, case, pretension):
    table = published("cloth/membrane_cases")
    share = 0.5 * table.tolerance("value")
    vertices, faces = grid(60, 2, length=2.0, width=0.1)
    held = (vertices[:, 0] < 1e-9) | (vertices[:, 0] > 2 - 1e-9)
    membrane = sheet(vertices, faces, held, stiffness=2e5, prestress=(pretension, 0.0, 0.0))
    found = settle(membrane, vertices, loads=Loads(pressure=np.full(len(faces), PRESSURE)))
    tension = by_case(table, case, "tension")
    assert abs(found.stress[:, 0].mean() - tension) <= share * tension
    sag = by_case(table, case, "sag")
    assert abs(found.vertices[:, 2].max() - sag) <= share * sag


@pytest.mark.published
def test_membranes_of_given_tension_sag_under_pressure(published):
    table = published("cloth/form_finding")
    share = table.tolerance("value")

    def wanted(case, quantity):
        return next(r["value"] for r in table.rows if r["case"] == case and r["quantity"] == quantity)

    for case, (vertices, faces, held) in (("poisson_square", square(40, 1.0)), ("poisson_circle", disc(90))):
        soft = sheet(vertices, faces, held, stiffness=50.0, prestress=(100.0, 100.0, 0.0))
        found = settle(soft, vertices, loads=Loads(pressure=np.full(len(faces), 1.0)))
        sag = found.vertices[:, 2].max() * 100.0  # p a^2 / T = 0.01: small, as the formula wants
        assert abs(sag - wanted(case, "centre_sag")) <= share * wanted(case, "centre_sag")


@pytest.mark.published
def test_inflated_cylinder(published):
    table = published("cloth/membrane_cases")
    wanted = by_case(table, "cylinder under pressure", "hoop_tension")
    around, radius = 120, 2.0
    angle = 2 * np.pi * np.arange(around) / around
    rows = [np.stack([radius * np.cos(angle), np.full(around, y), -radius * np.sin(angle)], 1) for y in (0, 0.1, 0.2)]
    vertices = np.vstack(rows)
    faces = []
    for j in range(2):
        for i in range(around):
            a, b = j * around + i, j * around + (i + 1) % around
            faces += [(a, b, b + around), (a, b + around, a + around)]
    faces = np.array(faces)
    held = np.zeros(len(vertices), dtype=bool)
    membrane = Membrane(
        faces=faces,
        rest=ring_rest(vertices, faces),
        stiffness=np.tile([1e6, 1e6, 0.0, 5e5], (len(faces), 1)),
        held=held,
    )
    outward = np.cross(vertices[faces[0, 1]] - vertices[faces[0, 0]], vertices[faces[0, 2]] - vertices[faces[0, 0]]) @ (
        vertices[faces[0]].mean(axis=0) * [1, 0, 1]
    )
    found = settle(membrane, vertices, loads=Loads(pressure=np.full(len(faces), np.sign(outward) * PRESSURE)))
    hoop = found.stress[:, 0].mean()
    assert abs(hoop - wanted) <= table.tolerance("value") * wanted


def ring_rest(vertices, faces):
    """Return a ring's faces flat, first axis along the girth."""
    from canvas.cloth.membrane import rest_shape

    middle = vertices[faces].mean(axis=1)
    girth = np.cross([0.0, 1.0, 0.0], middle)
    return rest_shape(vertices, faces, girth)


@pytest.mark.published
@pytest.mark.parametrize("case", ["par1", "par2", "par3"])
def test_cable_under_even_load(published, case):
    table = published("cloth/form_finding")
    share = table.tolerance("value")
    rows = {r["quantity"]: r for r in table.rows if r["case"] == case}
    given = dict(part.split("=") for part in rows["length"]["parameters"].split(" N/m")[0].split())
    span, sag, load = float(given["span"]), float(given["sag"]), float(given["load"])
    x = np.linspace(0.0, span, 81)
    shape = np.column_stack([x, 0 * x, -4 * sag * x * (span - x) / span**2])
    rest = np.linalg.norm(np.diff(shape, axis=0), axis=1)
    rest *= length_of(case) / rest.sum()
    dead = np.zeros_like(shape)
    dead[1:-1, 2] = -load * span / 80
    found = hung_line(shape, rest, dead, stretching=1e10)
    assert abs(-found.vertices[:, 2].min() - sag) <= share * sag
    pull = abs(found.reactions[0, 0])
    wanted = rows["horizontal_force"]["value"]
    assert abs(pull - wanted) <= share * wanted
    support = rows["support_tension"]["value"]
    assert abs(np.hypot(pull, load * span / 2) - support) <= share * support


def hung_line(shape, rest, dead, *, stretching):
    """Return a line at rest, held at both ends, under loads at its points."""
    held = np.zeros(len(shape), dtype=bool)
    held[[0, -1]] = True
    line = ElasticLine(name="line", vertices=np.arange(len(shape)), rest=rest, stretching=stretching)
    membrane = Membrane(
        faces=np.zeros((0, 3), dtype=np.int64),
        rest=np.zeros((0, 3, 2)),
        stiffness=np.zeros((0, 4)),
        held=held,
        lines=(line,),
    )
    return settle(membrane, shape, loads=Loads(dead=dead))


def length_of(case):
    """Return the cable's length by the formula of the table, so that a spoilt table does not spoil the input."""
    span, sag = {"par1": (3.0, 0.15), "par2": (2.0, 0.5), "par3": (4.0, 0.05)}[case]
    n = sag / span
    return span / 2 * np.sqrt(1 + 16 * n**2) + span / (8 * n) * np.arcsinh(4 * n)


@pytest.mark.published
@pytest.mark.parametrize("case", ["cat1", "cat2"])
def test_hanging_chain(published, case):
    table = published("cloth/form_finding")
    share = table.tolerance("value")
    rows = {r["quantity"]: r["value"] for r in table.rows if r["case"] == case}
    span, length = {"cat1": (2.0, 2.2), "cat2": (3.0, 3.02)}[case]
    x = np.linspace(0.0, span, 121)
    shape = np.column_stack([x, 0 * x, -1.2 * x * (span - x) / span**2])
    rest = np.full(120, length / 120)
    dead = np.zeros_like(shape)
    dead[:, 2] = -length / 120
    found = hung_line(shape, rest, dead, stretching=1e6)
    assert abs(-found.vertices[:, 2].min() - rows["sag"]) <= share * rows["sag"]
    assert abs(abs(found.reactions[0, 0]) - rows["horizontal_force"]) <= share * rows["horizontal_force"]


@pytest.mark.published
def test_hypar_carries_plan_load_in_shear(published):
    table = published("cloth/membrane_cases")
    wanted = by_case(table, "hypar z=c xy/(ab), plan load p", "shear_force")
    vertices, faces, held = square(40, 1.0)
    plan = vertices[:, :2] - 0.5
    vertices[:, :2] = plan
    vertices[:, 2] = 0.4 * plan[:, 0] * plan[:, 1]
    membrane = sheet(vertices, faces, held, stiffness=4e6, prestress=(1e3, 1e3, 0.0))
    corner = vertices[faces]
    side1, side2 = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = (side1[:, 0] * side2[:, 1] - side1[:, 1] * side2[:, 0]) / 2
    share = np.bincount(faces.ravel(), weights=np.repeat(area / 3, 3), minlength=len(vertices))
    dead = np.zeros_like(vertices)
    dead[:, 2] = -PRESSURE * share
    middle = np.linalg.norm(corner.mean(axis=1)[:, :2], axis=1) < 0.12
    before = settle(membrane, vertices).stress[middle][:, 2].mean()
    after = settle(membrane, vertices, loads=Loads(dead=dead)).stress[middle][:, 2].mean()
    assert abs(abs(after - before) - wanted) <= 2 * table.tolerance("value") * wanted


@pytest.mark.analytic
@pytest.mark.parametrize("count", [16, 32])
@pytest.mark.parametrize("side", [1.0, 2.0])
def test_flat_square_ponds_below_its_threshold(side, count):
    threshold = WATER * side**2 / (2 * np.pi**2)
    assert threshold == pytest.approx({1.0: 497.0, 2.0: 1988.0}[side], rel=1e-3)
    vertices, faces, held = square(count, side)
    for share, stable in ((0.98, False), (1.02, True)):
        tension = share * threshold
        found = ponding(sheet(vertices, faces, held, stiffness=2e5, nu=0.3, prestress=(tension, tension, 0)), vertices)
        assert found.stable == stable
        assert found.factor == pytest.approx(share, rel=0.01)


@pytest.mark.analytic
def test_volume_of_water_in_a_bowl():
    vertices, faces, _ = disc(90)
    deep = 0.3
    vertices[:, 2] = deep * (vertices[:, 0] ** 2 + vertices[:, 1] ** 2 - 1)
    full = water_volume(vertices, faces, standing_levels(vertices, faces))
    assert full == pytest.approx(np.pi * deep / 2, rel=0.005)
    part = water_volume(vertices, faces, np.full(len(vertices), -0.1))
    assert part == pytest.approx(np.pi * deep * (1 - 0.1 / deep) ** 2 / 2, rel=0.01)


@pytest.mark.behaviour
def test_pool_fills_to_its_spill_and_not_for_ever():
    vertices, faces, held = disc(40)
    dished = vertices.copy()
    dished[~held, 2] -= 2e-3
    soft = sheet(vertices, faces, held, stiffness=2e5, nu=0.3, prestress=(50, 50, 0))
    pool = follow_pool(soft, dished)
    assert pool.volume > 10 * water_volume(dished, faces, standing_levels(dished, faces))
    assert pool.loaded is not None
    assert pool.loaded.vertices[:, 2].min() < -0.05
    taut = sheet(vertices, faces, held, stiffness=2e5, nu=0.3, prestress=(5e3, 5e3, 0))
    assert follow_pool(taut, dished).volume < 0.2 * pool.volume


@pytest.mark.behaviour
def test_sloping_cloth_holds_no_water():
    vertices, faces, held = square(16, 1.0)
    vertices[:, 2] = 0.2 * vertices[:, 0]
    taut = sheet(vertices, faces, held, stiffness=2e5, prestress=(300, 300, 0))
    pool = follow_pool(taut, vertices)
    assert pool.volume == 0.0
    assert pool.loaded is None
