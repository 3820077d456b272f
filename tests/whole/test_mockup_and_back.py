"""From the mock-up sheet and back: what two people find on it, typed into the design, bends the canvas to it."""

import json
import re
import tomllib

import numpy as np
import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.cli import app
from canvas.design.units import length, length_text
from tests.whole.boats import EXAMPLES

run = CliRunner()
MM = 0.001
SETS = {"marrowgrass": "wet watch", "oddfellow": "harbour", "lantern-hill": "shade at anchor"}
AXES = {"aft": 0, "starboard": 1, "up": 2}


def typed(value, units):
    """Return a length as a crew writes it: millimetres, or feet, inches and sixteenths."""
    return f"{value:.3f} m" if units == "m" else length_text(value, units)


def found_on_board(listed, marks, places, units, random):
    """Return the list with what was found typed in, each within two millimetres."""
    lines = []
    for line in listed.splitlines():
        if "kind = " not in line:
            continue
        asked = tomllib.loads("one = " + line.split("},")[0] + "}")["one"]
        if asked["kind"] == "tape":
            value = np.linalg.norm(marks.at(asked["from"]) - places[asked["to"]])
        else:
            value = places[asked["at"]][AXES[asked["axis"]]]
        written = typed(float(value + random.normal(scale=2 * MM)), units)
        lines.append(line.replace('length = ""', f'length = "{written}"'))
    return "".join(f"{line}\n" for line in lines)


def with_readings(text, lines):
    """Return a design with more readings, in the list it has or in one of its own."""
    if "\nreading = [\n" in text:
        return text.replace("\nreading = [\n", f"\nreading = [\n{lines}", 1)
    first = text.index("\n[")
    return f"{text[:first]}\nreading = [\n{lines}]\n{text[first:]}"


@pytest.fixture(scope="module", params=list(SETS.items()), ids=list(SETS))
def rigged(request, tmp_path_factory):
    """Return a boat whose mock-up hangs some centimetres off the design: its file, the corners as they are."""
    name, set_name = request.param
    file = EXAMPLES / f"{name}.toml"
    text = file.read_text(encoding="utf-8")
    answer = verbs.mockup(file, sets=[set_name])
    listed = next(content for key, content in answer.files.items() if key.endswith(".toml")).decode("utf-8")
    rigging = answer.rigging
    new = re.findall(r"^#   (\w+ = \[.*\])$", listed, flags=re.MULTILINE)
    text = text.replace("[marks]\n", "[marks]\n" + "".join(f"{line}\n" for line in new))
    random = np.random.default_rng(len(text))
    design = verbs.rigging_of(file).model.design
    corners = sorted(set(re.findall(r' (?:to|at) = "(\w+)", (?:axis|length)', listed)))
    as_designed = {}
    for corner in corners:
        own = next((line for line in new if line.startswith(f"{corner} = ")), None)
        place = rigging.model.marks.at(corner) if own is None else tomllib.loads(own)[corner]
        as_designed[corner] = np.array(place if own is None else [length(part) for part in place])
    hangs = {corner: place + random.uniform(-0.04, 0.04, 3) for corner, place in as_designed.items()}
    lines = found_on_board(listed, rigging.model.marks, hangs, design.units, random)
    changed = tmp_path_factory.mktemp(name) / f"{name}.toml"
    changed.write_text(with_readings(text, lines), encoding="utf-8")
    return changed, set_name, as_designed, hangs


@pytest.mark.behaviour
def test_the_canvas_hangs_where_it_was_found(rigged):
    file, set_name, as_designed, hangs = rigged
    done = run.invoke(app, ["survey", str(file), "--json"])
    assert done.exit_code == 0, done.stderr
    found = json.loads(done.stdout)
    (panel,) = found["measured_panels"]
    assert panel["honoured"]
    assert f"{panel['name']} came out up to" in found["sentence"]
    spots = {spot["name"]: spot for spot in found["measured_spots"]}
    assert set(spots) == set(hangs)
    off = []
    for name, spot in spots.items():
        moved = np.array([spot["aft_m"], spot["to_starboard_m"], spot["up_m"]])
        off.append(moved - (hangs[name] - as_designed[name]))
        assert np.abs(off[-1]).max() < 4 * spot["sd_m"] + MM
    assert np.sqrt(np.mean(np.sum(np.square(off), axis=1))) < 8 * MM
    shape = verbs.rigging_of(file).rig(set_name).formed.panel(panel["name"])
    corners = shape.vertices[[line[0] for line in shape.edge_vertices]]
    for name, place in hangs.items():
        assert np.linalg.norm(corners - place, axis=1).min() < 15 * MM, name


@pytest.mark.behaviour
def test_differences_are_shown_edge_by_edge_and_reading_by_reading(rigged):
    file, _, _, hangs = rigged
    found = json.loads(run.invoke(app, ["survey", str(file), "--json"]).stdout)
    text = file.read_text(encoding="utf-8").splitlines()
    assert len(found["measured_readings"]) == 6 * len(hangs)
    for reading in found["measured_readings"]:
        assert 'panel = "' in text[reading["line"] - 1]
        assert abs(reading["residual_m"]) < 20 * MM
    assert max(abs(one["read_m"] - one["designed_m"]) for one in found["measured_readings"]) > 20 * MM
    assert any(abs(one["length_m"] - one["designed_length_m"]) > 5 * MM for one in found["measured_edges"])
    printed = run.invoke(app, ["survey", str(file)]).stdout
    assert "measured edges" in printed
