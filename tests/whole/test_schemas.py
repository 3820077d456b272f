"""Hold every verb's record to its JSON Schema, and the schemas to the keys that the project promises to programs."""

import copy
import json
from functools import partial
from importlib import resources

import pytest
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from canvas import verbs
from canvas.brief.records import failure
from canvas.cli import app
from canvas.design.problems import DesignError
from tests.whole.boats import EXAMPLES, NAMES, QUICK, SMALL, WHOLE, boat, record

FOLDER = resources.files("canvas.brief.records") / "schemas"
NO_JSON = {"chosen_sets", "rigging_of", "new", "DesignLike", "target_sheet", "read_case"}  # the last by photo and case
SAVING = ("cut", "sheet", "mockup", "brief", "report", "scan", "photo", "case")
VARIED = "marks.tent_aft_port[2] & marks.tent_aft_stbd[2] = 1.10 m .. 1.30 m, 2"
HOLLOW = 'panel "watch tent roof", edges "port".hollow = 2 % .. 400 %, 2'
ASKED = {  # what a verb cannot be called without
    "scan": ["scan.ply", "--points", "picked.csv"],
    "sweep": ["--vary", VARIED],
    "search": ["--vary", VARIED, "--set", "wet watch"],
}
VERBS = sorted(name.name.removesuffix(".json") for name in FOLDER.iterdir() if name.name.endswith(".json"))

FELT = (
    "speed_ratio", "speed_ratio_low", "speed_ratio_high", "speed_ratio_free", "force_ratio", "turn_deg", "gain",
    "unsteadiness", "wander_deg", "lowest_aws_kn", "lowest_aws_kn_low", "lowest_aws_kn_high",
)  # fmt: skip

# What programs were promised, as the design of the command line lists it: by verb, keys on top and keys in each set.
PROMISED = {
    "check": ["marks[].name", "sets[].panels[].name", "sets[].panels[].area_m2"],
    "survey": [
        *(f"marks[].{key}" for key in ("name", "x_m", "y_m", "z_m", "sd_m")),
        *(f"suspects[].{key}" for key in ("reading", "line", "found_m", "probable_m")),
        *(f"unseen[].{key}" for key in ("reading", "redundancy")),
        "sigma0",
    ],
    "shade": [
        *(f"sun.{key}" for key in ("altitude_deg", "apparent_altitude_deg", "azimuth_deg")),
        *(f"sets[].places[].{key}" for key in ("name", "shade_share", "shade_share_low", "shade_share_high")),
    ],
    "shade span": [
        *(f"sets[].hours[].{key}" for key in ("at", "latitude_deg", "places")),
        *(f"sets[].days[].places[].{key}" for key in ("name", "shade_share", "uv_kept_off_share")),
    ],
    "rain": [
        *(f"sets[].angles[].{key}" for key in ("awa_deg", "aws_kn")),
        *(f"sets[].angles[].places[].{key}" for key in ("name", "wetted_share")),
    ],
    "vane": [f"sets[].angles[].{key}" for key in ("awa_deg", "clear_share", "wake_word", "verdict", *FELT)]
    + ["sets[].courses"],
    "fit": [f"sets[].checks[].{key}" for key in ("name", "value", "unit", "limit", "margin", "sd", "verdict")],
    "cut": [
        *(f"sets[].parts[].{key}" for key in ("name", "area_m2", "strain_edge_max", "strain_inside_max")),
        *(f"sets[].edges[].{key}" for key in ("panel", "name", "length_m", "sd_m", "fit", "long_by_mm")),
        "sets[].seams",
        "files",
    ],
    "buy": [
        *(f"sets[].cloth[].{key}" for key in ("name", "area_m2", "roll_length_m", "mass_kg")),
        *(f"sets[].zips[].{key}" for key in ("name", "length_m")),
    ],
    "loads": [
        *(f"sets[].parts[].{key}" for key in ("name", "load_n", "strength_n", "limit_aws_kn_low", "limit_aws_kn_high")),
        "sets[].strike_at_kn",
        *(f"sets[].roofs[].{key}" for key in ("panel", "ponding_factor", "litres", "water_kg", "flat_share")),
    ],
    "life": [f"sets[].sewn[].{key}" for key in ("name", "uv_of_deck_share", "life_years_low", "life_years_high")],
    "sheet": ["files"],
    "mockup": ["files"],
    "brief": ["files"],
    "report": ["files"],
}
ALWAYS = ["schema", "version", "design", "design_sha256", "problems", "sets"]
IN_EACH_SET = ["sets[].name", "sets[].cautions", "sets[].problems"]
WITHOUT_SETS = {"survey", "sheet"}
RECORDS = [*((SMALL, verb) for verb in (*QUICK, *WHOLE)), *((NAMES[0], verb) for verb in QUICK)]
MORE_RECORDS = [
    pytest.param(name, verb, marks=pytest.mark.slow)
    for name in NAMES
    for verb in (*QUICK, *WHOLE)
    if (name, verb) not in RECORDS
]


def schema(verb):
    return json.loads((FOLDER / f"{verb.split()[0]}.json").read_text(encoding="utf-8"))


def faults(verb, found):
    return [f"{one.json_path}: {one.message[:160]}" for one in Draft202012Validator(schema(verb)).iter_errors(found)]


def without(found, path):
    """Return a record without one key, taken from the first object that the path leads to; None where there is none."""
    changed = copy.deepcopy(found)
    holders = [changed]
    *way, last = path.split(".")
    for step in way:
        key, listed, _ = step.partition("[]")
        below = [holder[key] for holder in holders if key in holder]
        holders = [one for part in below for one in part] if listed else below
    holder = next((holder for holder in holders if last in holder), None)
    if holder is None:
        return None
    del holder[last]
    return changed


@pytest.mark.behaviour
def test_every_verb_with_json_has_a_schema():
    assert {name for name in verbs.__all__ if name not in NO_JSON} <= set(VERBS)


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", VERBS)
def test_schemas_are_schemas_and_share_one_form_of_problem(verb):
    found = schema(verb)
    Draft202012Validator.check_schema(found)
    assert found["properties"]["schema"]["const"] == f"cockpit-canvas/{verb}"
    assert found["$defs"]["problem"] == schema("check")["$defs"]["problem"]
    assert set(ALWAYS) <= set(found["required"])
    assert "additionalProperties" not in json.dumps(found)


@pytest.mark.behaviour
@pytest.mark.parametrize(("name", "verb"), [*RECORDS, *MORE_RECORDS])
def test_records_are_as_their_schema_says(name, verb):
    assert faults(verb, json.loads(json.dumps(record(name, verb), allow_nan=False))) == []


@pytest.mark.behaviour
def test_records_of_a_passage_and_of_a_comparison_are_as_their_schemas_say():
    sets = [one.name for one in boat(SMALL).model.design.set[:2]]
    asked = {
        "passage": lambda: verbs.passage(boat(NAMES[0]), sets=["shade"], strike=12.0),
        "compare": lambda: verbs.compare(boat(SMALL), sets=sets),
    }
    for verb, answered in asked.items():
        found = json.loads(json.dumps(answered().record(), allow_nan=False))
        assert faults(verb, found) == []
        for path in [*ALWAYS, *IN_EACH_SET, *(f"sets[].{key}" for key in found["sets"][0])]:
            assert faults(verb, without(found, path)), path


@pytest.mark.behaviour
def test_records_of_variants_are_as_their_schemas_say():
    source = boat(NAMES[0]).model.source
    searched = partial(verbs.search, source, set_name="wet watch", start=2, rounds=0)
    asked = {
        "sweep": lambda: verbs.sweep(source, vary=[VARIED, HOLLOW], sets=["wet watch"]),  # two of four are no design
        "search": lambda: searched(vary=[VARIED], aims=("cloth_m2",), least_headroom=0.5),
    }
    for verb, answered in asked.items():
        found = json.loads(json.dumps(answered().record(), allow_nan=False))
        assert faults(verb, found) == []
        assert list(unrounded(found)) == []
        (one,) = found["sets"]
        tops = [key for key in found if key not in ALWAYS]
        rows = [f"sets[].{key}" for key in one]
        inside = [
            f"sets[].{key}[].{name}" for key in ("variants", "effects", "front") if one.get(key) for name in one[key][0]
        ]
        for path in [
            *ALWAYS,
            *IN_EACH_SET,
            *tops,
            *rows,
            *inside,
            *(f"numbers[].{key}" for key in found["numbers"][0]),
        ]:
            assert faults(verb, without(found, path)), path


@pytest.mark.behaviour
@pytest.mark.parametrize(("verb", "path"), [(verb, path) for verb, paths in PROMISED.items() for path in paths])
def test_a_promised_key_that_goes_missing_is_found(verb, path):
    found = record("oddfellow" if verb == "survey" else SMALL, verb)
    spoilt = without(found, path)
    if spoilt is None and "[]" in path and verb == "survey":
        row = dict.fromkeys(("reading", "probable_m"))
        assert faults(verb, {**found, path.partition("[]")[0]: [row]})
        return
    assert spoilt is not None, f"{verb} gives no {path}"
    assert faults(verb, spoilt)


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", [verb for verb in PROMISED if verb not in WHOLE])
def test_the_envelope_is_whole(verb):
    found = record(SMALL, verb)
    for path in [*ALWAYS, *([] if verb in WITHOUT_SETS else IN_EACH_SET)]:
        assert faults(verb, without(found, path)), path
    assert faults(verb, {**found, "version": 2})
    assert faults(verb, {**found, "design": None})
    assert faults(verb, {**found, "a key of tomorrow": 1}) == []


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", VERBS)
def test_the_record_of_wrong_input_is_as_the_schema_says(verb):
    with pytest.raises(DesignError) as refused:
        verbs.check(EXAMPLES / "no-such-boat.toml")
    found = failure(verb, refused.value.problems)
    assert faults(verb, found) == []
    assert faults(verb, {**found, "problems": []})
    assert faults(verb, {**found, "sets": [{"name": "bare", "cautions": [], "problems": []}]})


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", VERBS)
def test_the_command_line_prints_that_record(verb, tmp_path):
    bad = tmp_path / "boat.toml"
    bad.write_text('name = "Skua"\nunits = "m"\n', encoding="utf-8")
    out = ["-o", str(tmp_path / "out" / "file.pdf")] if verb in SAVING else []
    done = CliRunner().invoke(app, [verb, str(bad), *ASKED.get(verb, ()), *out, "--json"])
    assert done.exit_code == 2
    found = json.loads(done.stdout)
    assert faults(verb, found) == []
    assert len(found["problems"]) > 3
    assert not (tmp_path / "out").exists()


def unrounded(value, key=""):
    """Yield every number with more digits than a record may hold: 0.1 mm for lengths, else five significant."""
    if isinstance(value, dict):
        for name, part in value.items():
            yield from unrounded(part, name)
    elif isinstance(value, list):
        for part in value:
            yield from unrounded(part, key)
    elif isinstance(value, float):
        places = 4 if key.endswith(("_m", "_deg")) else 1 if key.endswith("_mm") else None
        fine = places is not None and float(f"{value:.{places}f}") == value
        if not fine and float(f"{value:.5g}") != value:
            yield f"{key} {value!r}"


@pytest.mark.behaviour
@pytest.mark.parametrize(("name", "verb"), RECORDS)
def test_every_number_of_a_record_is_rounded_once(name, verb):
    assert list(unrounded(record(name, verb))) == []


@pytest.mark.behaviour
def test_an_unrounded_number_is_found():
    assert list(unrounded({"rows": [{"area_m2": 1.23456}]})) == ["area_m2 1.23456"]
    assert list(unrounded({"length_m": 12.34567})) == ["length_m 12.34567"]
    assert list(unrounded({"length_m": 12.3457, "awa_deg": -137.1234, "share": 0.012346})) == []
