"""How well lengths of edges are known: as repeated surveys scatter, as loose hoops move them, by zips measured."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from canvas import verbs
from canvas.cloth.sureness import Sureness, sway_of
from canvas.design.reading import parse_design
from canvas.survey.adjust import adjust
from canvas.survey.from_design import survey_of
from canvas.survey.readings import Tape, standard_deviation
from canvas.verbs.making import cut_result

EXAMPLES = Path(__file__).parents[2] / "examples"
MM = 0.001


@pytest.fixture(scope="module")
def cutter():
    return verbs.rigging_of(EXAMPLES / "oddfellow.toml")


@pytest.fixture(scope="module")
def parts(cutter):
    return cut_result(cutter)


@pytest.mark.behaviour
def test_an_edge_between_surveyed_marks_is_as_sure_as_repeated_surveys_make_it(cutter):
    """Sixty crews measure Oddfellow; the awning's side is as long as the way between its two marks."""
    survey, marks = survey_of(cutter.model.source), cutter.model.marks
    ends = ("awning_forward_port", "awning_aft_port")
    random = np.random.default_rng(7)
    rough = replace(survey.datum, rough={name: marks.at(name) for name in marks.names if name not in survey.datum.held})
    lengths = []
    for _ in range(60):
        entries = [
            replace(one, length=float(np.linalg.norm(marks.at(one.a) - marks.at(one.b)))
                    + random.normal() * standard_deviation(one, precision=survey.precision))
            if isinstance(one, Tape) else one
            for one in survey.entries
        ]  # fmt: skip
        found = adjust(entries, datum=rough, sessions=survey.sessions, precision=survey.precision)
        lengths.append(np.linalg.norm(found.at(ends[0]) - found.at(ends[1])))
    names = [edge.name for edge in cutter.model.design.panel_named("harbour awning").edges]
    rig = cutter.rig("harbour")
    said = Sureness(cutter, rig.formed).edge_length("harbour awning", names.index("port"))
    assert said.value == pytest.approx(rig.formed.panel("harbour awning").edges[names.index("port")].length)
    assert np.std(lengths) == pytest.approx(said.sd, rel=0.25)


@pytest.mark.analytic
def test_a_hoop_sways_square_to_its_plane_and_most_at_its_top():
    turn = np.linspace(0, np.pi, 91)
    hoop = np.c_[np.sin(turn) * np.sin(0.3), -np.cos(turn), np.sin(turn) * np.cos(0.3)]
    way, share = sway_of(hoop)
    assert np.abs(hoop @ way).max() < 1e-9
    assert abs(way[0]) == pytest.approx(np.cos(0.3))
    assert share == pytest.approx(np.sin(turn), abs=1e-9)


@pytest.mark.behaviour
def test_a_loose_hoop_lengthens_what_hangs_between_it_and_another_but_not_what_lies_along_it(cutter, parts):
    edges = {(edge.panel, edge.name): edge for edge in parts.edges}
    roof = {name: edge for (panel, name), edge in edges.items() if panel == "watch tent roof"}
    bows = {tube.name: tube.play for tube in cutter.model.design.tube}
    both = bows["spray hood bow"] + bows["tent bow"]
    assert 0.7 * both < roof["port"].play < both, "the corners stand lower than the tops"
    assert roof["port"].fit == "on board"
    assert roof["aft"].play < 1 * MM
    awning = edges["harbour awning", "port"]
    assert (awning.play, awning.fit) == (0.0, "final")


@pytest.mark.behaviour
def test_a_zip_from_tape_marks_alone_is_never_final(parts):
    zips = [edge for edge in parts.edges if edge.finish.startswith("zip")]
    assert len(zips) >= 4
    assert all(edge.sd is not None and edge.fit != "final" and edge.long_by > 0 for edge in zips)


@pytest.mark.behaviour
def test_a_new_edge_takes_the_length_of_the_zip_aboard_as_measured_and_is_final():
    text = (EXAMPLES / "lantern-hill.toml").read_text(encoding="utf-8")
    measured = 'length = "5 ft 3 in"'
    assert measured in text
    riggings = []

    def top(changed):
        rigging = verbs.rigging_of(parse_design(changed, file="lantern-hill.toml", folder=EXAMPLES))
        for before in riggings:
            rigging.take_over(before)  # what keeps its shape is formed once
        riggings.append(rigging)
        return next(
            edge for edge in cut_result(rigging).edges if (edge.panel, edge.name) == ("curtain starboard", "top")
        )  # fmt: skip

    edge = top(text)
    assert edge.length == pytest.approx(63 * 0.0254, abs=0.1 * MM)
    assert (edge.fit, edge.long_by) == ("final", 0.0)
    shorter = top(text.replace(measured, 'length = "5 ft 2 7/8 in"'))
    assert shorter.length == pytest.approx(62.875 * 0.0254, abs=0.1 * MM)
    unknown = top(text.replace(", " + measured, ""))
    assert (unknown.fit, unknown.sd) == ("on board", None), "its marks were typed in, and nothing says how well"
