"""Mock-up round trip: readings simulated on a changed panel give its shape back."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator

from canvas.asbuilt.bend import PanelToBend, bend
from canvas.cloth import form
from canvas.cloth.domain import closest
from canvas.geometry.outline import PanelEdge, PanelOutline
from canvas.survey.marks import Marks
from canvas.survey.readings import Height, Precision, Tape, standard_deviation
from tests.cloth.cloth_shapes import hoop, straight

MM = 0.001
AFT = hoop(1.5, width=1.7, height=0.45)
GUARD = np.array([[2.6, -0.7, 1.3], [2.6, 0.7, 1.3]])
BOAT = {
    "bulkhead_port": (0.0, -0.8, 0.9), "bulkhead_stbd": (0.0, 0.8, 0.9), "sole_forward": (0.0, 0.0, 0.0),
    "sole_aft": (1.9, 0.0, 0.0), "pushpit_port": (2.9, -1.0, 0.6), "pushpit_stbd": (2.9, 1.0, 0.6),
    "coaming_port": (1.5, -0.85, 0.6), "coaming_stbd": (1.5, 0.85, 0.6),
}  # fmt: skip
MARKS = Marks(names=tuple(BOAT), xyz=np.array(list(BOAT.values())), covariance=np.eye(3 * len(BOAT)) * (3 * MM) ** 2)


def roof(moved=0.0, *, hollow=1.0):
    """Return a roof from a hoop to two free corners, formed."""
    corner = GUARD + np.asarray(moved)
    outline = PanelOutline(
        name="roof",
        cloth="coated polyester 300",
        edges=(
            PanelEdge(name="forward", line=AFT, kind="held"),
            PanelEdge(name="starboard", line=straight(AFT[-1], corner[1]), kind="free", hollow=0.03 * hollow),
            PanelEdge(name="leech", line=corner[::-1], kind="free", hollow=0.05 * hollow),
            PanelEdge(name="port", line=straight(corner[0], AFT[0]), kind="free", hollow=0.03 * hollow),
        ),
    )
    return form((outline,), set_name="a set").panels[0]


@dataclass(frozen=True)
class Mockup:
    """What two people measure: places of spots by design and on the cloth, and the readings."""

    spots: dict
    true: dict
    readings: list


def _spots(shape, *, inside):
    lines = shape.edge_vertices
    found = {"corner_stbd": shape.vertices[lines[1][-1]], "corner_port": shape.vertices[lines[2][-1]]}
    for name, edge in (("mid_stbd", 1), ("mid_leech", 2), ("mid_port", 3)):
        line = shape.vertices[lines[edge]]
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
        found[name] = np.array([np.interp(0.5 * along[-1], along, line[:, axis]) for axis in range(3)])
    height = LinearNDInterpolator(shape.vertices[:, :2], shape.vertices[:, 2])
    for number, (x, y) in enumerate(((2.0, 0.0), (2.0, 0.4), (2.0, -0.4)) if inside else ()):
        found[f"inside_{number}"] = np.array([x, y, float(height(x, y))])
    return found


def measured(design, truth, random, *, inside=True):
    """Return tapes from five boat marks to every spot and heights of all in one session with the boat heeled."""
    spots, true = _spots(design, inside=inside), _spots(truth, inside=inside)
    readings = []

    def height(name, place):
        value = place[2] + 0.02 * place[1] - 0.4 + random.normal(scale=Precision().height)
        readings.append(Height(mark=name, height=float(value), session="mock-up"))

    for name, place in true.items():
        near = sorted(BOAT, key=lambda mark: np.linalg.norm(np.subtract(BOAT[mark], place)))
        for mark in (*near[:4], near[-1]):
            tape = Tape(a=mark, b=name, length=float(np.linalg.norm(np.subtract(BOAT[mark], place))))
            error = random.normal(scale=standard_deviation(tape, precision=Precision()))
            readings.append(replace(tape, length=float(tape.length + error)))
        height(name, place)
    for name, place in BOAT.items():
        height(name, place)
    return Mockup(spots=spots, true=true, readings=readings)


def to_bend(design):
    stays = np.zeros(len(design.vertices), dtype=bool)
    stays[design.edge_vertices[0]] = True
    return PanelToBend(
        vertices=design.vertices,
        faces=design.faces,
        stays=stays,
        lines=design.edge_vertices[1:],
        forces=tuple(edge.cable_force / 60.0 for edge in design.edges[1:]),
    )


def _rms_off(truth, bent, design):
    return float(np.sqrt(np.mean(closest(truth.vertices, bent, design.faces)[2] ** 2)))


CHANGES = {
    "corners": ({"moved": [[0.0, 0.0, 0.06], [0.03, 0.0, -0.05]]}, 10 * MM),
    "corners and hollows": ({"moved": [[0.05, 0.0, 0.06], [0.03, 0.02, -0.05]], "hollow": 1.5}, 10 * MM),
    "one corner low": ({"moved": [[0.0, 0.0, 0.0], [0.0, 0.0, -0.10]]}, 10 * MM),
    "hollows": ({"hollow": 1.8}, 1 * MM),
}


@pytest.mark.behaviour
@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("change", CHANGES)
def test_round_trip_within_5_mm_rms(change, inside):
    how, before = CHANGES[change]
    design, truth = roof(), roof(**how)
    assert _rms_off(truth, design.vertices, design) > before
    found = measured(design, truth, np.random.default_rng(7), inside=inside)
    bent = bend(to_bend(design), found.readings, spots=found.spots, marks=MARKS)
    assert _rms_off(truth, bent.vertices, design) < 5 * MM
    assert bent.honoured
    off = np.linalg.norm(bent.measured - np.array([found.true[name] for name in bent.spots]), axis=1)
    assert np.all(off < 4 * bent.spot_sd)
    assert np.abs(bent.vertices[design.edge_vertices[0]] - design.vertices[design.edge_vertices[0]]).max() == 0


@pytest.mark.behaviour
def test_unchanged_panel_stays_as_it_is():
    design = roof()
    found = measured(design, design, np.random.default_rng(3))
    bent = bend(to_bend(design), found.readings, spots=found.spots, marks=MARKS)
    assert np.abs(bent.vertices - design.vertices).max() < 2 * MM


@pytest.mark.behaviour
def test_contradicting_reading_is_not_honoured_and_stands_out():
    design, truth = roof(), roof(moved=[[0.0, 0.0, 0.06], [0.03, 0.0, -0.05]])
    found = measured(design, truth, np.random.default_rng(5))
    number = next(k for k, r in enumerate(found.readings) if isinstance(r, Tape) and r.b == "corner_port")
    found.readings[number] = replace(found.readings[number], length=found.readings[number].length + 0.1)
    bent = bend(to_bend(design), found.readings, spots=found.spots, marks=MARKS)
    assert not bent.honoured
    assert int(np.argmax(np.abs(bent.standardised))) == number


@pytest.mark.analytic
def test_cloth_leans_with_one_spot_and_stays_at_its_hem():
    """A strip held at both ends, one exact height in the middle: it rises there by just that, and falls off evenly."""
    x = np.linspace(0.0, 2.0, 21)
    vertices = np.array([(a, b, 0.0) for b in (-0.1, 0.0, 0.1) for a in x])
    faces = [(r * 21 + k, r * 21 + k + 1, r * 21 + 22 + k) for r in range(2) for k in range(20)]
    faces += [(r * 21 + k, r * 21 + 22 + k, r * 21 + 21 + k) for r in range(2) for k in range(20)]
    stays = np.isin(vertices[:, 0], (0.0, 2.0))
    panel = PanelToBend(vertices=vertices, faces=np.array(faces), stays=stays)
    marks = Marks(names=("low",), xyz=np.array([[1.0, 0.0, -1.0]]), covariance=np.zeros((3, 3)))
    tape = Tape(a="low", b="middle", length=1.05, sigma=1e-5)
    bent = bend(panel, [tape], spots={"middle": (1.0, 0.0, 0.0)}, marks=marks)
    assert bent.measured[0] == pytest.approx([1.0, 0.0, 0.05], abs=1e-4)
    rise = bent.vertices[21:42, 2]
    assert rise[10] == pytest.approx(0.05, abs=1e-4)
    assert np.all(np.diff(rise[:11]) > 0)
    assert np.allclose(rise, rise[::-1], atol=1e-6)
    assert np.abs(bent.vertices[21:42, 2] - bent.vertices[:21, 2]).max() < 6 * MM
