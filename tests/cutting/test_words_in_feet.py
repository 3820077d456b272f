"""What stands beside parts says lengths in the boat's own units; lines are cut the same whatever it says."""

import dataclasses
import re

import numpy as np
import pytest

from canvas import verbs
from canvas.cutting.choices import CutOptions
from canvas.cutting.cut import cut_panels
from canvas.cutting.dxf import read_dxf
from canvas.cutting.files import cut_files
from canvas.cutting.finish import read_finishes
from canvas.cutting.piece import Joint
from canvas.cutting.sheet import Text
from canvas.design.units import INCH, length
from tests.cutting import cut_shapes as shapes
from tests.cutting.test_darts import cone, to_the_tip
from tests.whole.boats import EXAMPLES

FINISHES = read_finishes()
METRIC = re.compile(r"\d mm\b")
GEOMETRY = re.compile(r"^curves within 0\.1 mm$")  # how true lines in the file are, which no sixteenth says
PLATE = shapes.plate("fore", 1.0, 1.2, finishes=("hem", "zip", "hook and loop", "hem"), sd=0.004)
AFT = shapes.plate("aft", 0.9, 1.2, at=1.0, finishes=("hem", "tube pocket", "hem", "zip"))
ZIP = Joint(name="z", kind="zip", panel_a="aft", edge_a="near", panel_b="fore", edge_b="far")


def made(units):
    """Return a zip, an edge left long, a seam and a dart, cut."""
    panel = cone()
    darted = dataclasses.replace(panel, darts=(to_the_tip(panel),))
    wide = shapes.roof("wide", 3.0, 4.2, width=2.6)
    options = CutOptions(units=units, seams={"cone": ()})
    return cut_panels([PLATE, AFT, darted, wide], [ZIP], finishes=FINISHES, options=options)


@pytest.fixture(scope="module")
def cuts():
    return {units: made(units) for units in ("m", "mm", "ft", "in")}


def words_of(result):
    """Return all that is written on parts, sections and in the sewing order."""
    files = {file.name: file.content.decode() for file in cut_files(result, papers=(), finishes=FINISHES)}
    drawn = re.findall(r">([^<>]+)</text>", files["sections.svg"])
    return [
        *(item.text for part in result.parts for item in part.items if isinstance(item, Text)),
        *drawn,
        *files["sewing-order.txt"].splitlines(),
    ]


@pytest.mark.behaviour
@pytest.mark.parametrize(
    "said", ["long by {}", "tape {}", "takes out {}", "Leave {} to fit", "mark, {}.", "allowance {}"]
)
def test_a_boat_in_feet_is_told_of_inches_and_a_metric_one_of_millimetres(cuts, said):
    in_mm = re.compile(said.format(r"([\d.]+ mm)"))
    in_inches = re.compile(said.format(r"((?:\d+ ft )?[\d/ ]+ in)"))
    asked = {"m": in_mm, "mm": in_mm, "ft": in_inches, "in": in_inches}
    lengths = {
        units: [length(found[1]) for word in words_of(cuts[units]) if (found := one.search(word))]
        for units, one in asked.items()
    }
    assert lengths["m"]
    assert lengths["m"] == lengths["mm"]
    assert lengths["ft"] == pytest.approx(lengths["m"], abs=INCH / 32 + 0.0005)
    assert lengths["in"] == pytest.approx(lengths["ft"], abs=1e-9)


@pytest.mark.behaviour
def test_no_word_of_a_boat_in_feet_is_metric(tmp_path):
    answer = verbs.cut(EXAMPLES / "lantern-hill.toml", out=tmp_path)
    words = [text.text for drawing in sorted(tmp_path.glob("*.dxf")) for text in read_dxf(drawing).texts]
    words += re.findall(r">([^<>]+)</text>", answer.files["sections.svg"].decode())
    words += answer.files["sewing-order.txt"].decode().splitlines()
    assert any(word.endswith(" in") for word in words)
    assert [word for word in words if METRIC.search(word) and not GEOMETRY.match(word)] == []


@pytest.mark.property
def test_lines_are_cut_the_same_whatever_words_say(cuts):
    for one, other in zip(cuts["m"].parts, cuts["ft"].parts, strict=True):
        assert np.array_equal(one.cut, other.cut)
        assert np.array_equal(one.finished, other.finished)
