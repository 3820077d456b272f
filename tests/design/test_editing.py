"""Hold the changing of design files: what is not changed stays byte for byte, and nothing on disk is lost."""

import difflib
import os
import tomllib

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from canvas.design.editing import Draft, open_draft
from canvas.design.problems import DesignError
from canvas.design.reading import read_design
from canvas.jobs.failure import CouldNot
from tests.design.design_texts import EXAMPLES, NAMES, example
from tests.design.toml_texts import documents, paths_of


@pytest.fixture
def boat(tmp_path):
    """Return the path of a copy of the first example."""
    path = tmp_path / "boat.toml"
    path.write_text(example(), encoding="utf-8")
    return path


def rows_changed(before, after):
    """Return the rows that came and the rows that went."""
    rows = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return [row[2:] for row in rows if row[0] == "+"], [row[2:] for row in rows if row[0] == "-"]


@pytest.mark.property
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte order mark"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["LF", "CRLF"])
@pytest.mark.parametrize("name", NAMES)
def test_opened_and_saved_is_the_same_bytes(name, ends, mark, tmp_path):
    path = tmp_path / "boat.toml"
    raw = mark + example(name).replace("\n", ends).encode()
    path.write_bytes(raw)
    open_draft(path).save()
    assert path.read_bytes() == raw


@pytest.mark.property
@given(text=documents())
def test_any_toml_is_given_back_or_refused(text, tmp_path_factory):
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)
    path = tmp_path_factory.getbasetemp() / "drawn.toml"
    try:
        draft = Draft(text, path=path)
    except DesignError as refused:
        found = {problem.code for problem in refused.problems}
    else:
        found = set()
        assert draft.text == text
    assert found <= {"not-editable", "not-toml"}


LEAVES = [
    path
    for path, value in paths_of(tomllib.loads(example()))
    if not isinstance(value, dict | list) and path != ("units",)
]


@pytest.mark.property
@settings(max_examples=40)
@given(st.sampled_from(LEAVES), st.sampled_from(["0.125 m", "new # text", 'a "quoted" word', 3, 2.5, True]))
def test_setting_one_value_changes_one_value(path, value):
    draft = Draft(example(), path=EXAMPLES / "boat.toml")
    draft.set(path, value)
    assert draft.value(path) == value
    before, after = dict(paths_of(tomllib.loads(example()))), dict(paths_of(tomllib.loads(draft.text)))
    assert [key for key in before if not isinstance(before[key], dict | list) and before[key] != after[key]] in (
        [path],
        [],
    )
    came, went = rows_changed(example(), draft.text)
    assert len(came) == len(went) <= 1
    for row, old in zip(came, went, strict=True):
        assert row.partition("   # ")[2] == old.partition("   # ")[2]


@pytest.mark.property
@settings(max_examples=40)
@given(st.sampled_from(LEAVES))
def test_setting_what_is_there_changes_no_byte(path):
    draft = Draft(example(), path=EXAMPLES / "boat.toml")
    draft.set(path, draft.value(path))
    assert draft.text == example()


@pytest.mark.behaviour
def test_lengths_are_written_in_the_files_own_unit(boat):
    draft = open_draft(boat)
    draft.set_length(("cabin", "companionway", "offset"), 0.05)
    draft.set_point(("marks", "backstay_foot"), (2.95, 0.0, 0.6125))
    came, _ = rows_changed(example(), draft.text)
    assert came == [
        'offset = "0.050 m"                 # a little to starboard: the gas locker took the room',
        'backstay_foot = ["2.950 m", "0.000 m", "0.613 m"]',
    ]
    feet = Draft(example("lantern-hill"), path=boat)
    feet.set_length(("vane", "foot", 0), 7.7724)
    assert feet.value(("vane", "foot", 0)) == "25 ft 6 in"
    bare = Draft('name = "x"\nunits = "mm"\nlength = 1850 # of it\n', path=boat)
    bare.set_length(("length",), 1.9)
    assert bare.text == 'name = "x"\nunits = "mm"\nlength = 1900.0 # of it\n'


@pytest.mark.behaviour
def test_parts_are_added_where_their_kind_stands(boat):
    draft = open_draft(boat)
    draft.append(("panel", 2, "edges"), {"name": "x", "to": "masthead", "finish": "hem", "hollow": "3 %"})
    draft.append(("tube",), {"name": "preventer", "kind": "wire", "start": "masthead", "end": "arch_foot_port"})
    draft.append(("place",), {"name": "bridge deck", "corners": ["masthead", "backstay_foot", "arch_foot_port"]})
    draft.append(("set", 1, "up"), "watch tent roof")
    draft.set(("shop", "paper"), "Letter")
    came, went = rows_changed(example(), draft.text)
    assert '  { name = "x", to = "masthead", finish = "hem", hollow = "3 %" },' in came
    assert 'up = ["spray hood", "bimini", "bridging piece", "watch tent roof"]' in came
    assert went == ['up = ["spray hood", "bimini", "bridging piece"]']
    assert draft.value(("tube",))[-1]["name"] == "preventer"
    assert draft.text.index('"preventer"') < draft.text.index("[[panel]]")
    assert draft.text.endswith('[shop]\npaper = "Letter"\n')
    draft.delete(("panel", 2, "edges", 4))
    assert draft.source().design.place[0].name == "bridge deck"


@pytest.mark.behaviour
def test_a_list_written_in_line_grows_in_line(boat):
    draft = Draft(example("oddfellow"), path=boat)
    draft.append(("reading",), {"kind": "above", "at": "ridge_aft", "below": "sole_aft"})
    came, went = rows_changed(example("oddfellow"), draft.text)
    assert came == ['  { kind = "above", at = "ridge_aft", below = "sole_aft" },']
    assert went == []
    assert draft.source().design.reading[-1].kind == "above"


@pytest.mark.behaviour
def test_deleting_takes_out_the_part_and_nothing_else(boat):
    draft = open_draft(boat)
    draft.delete(("solid", 1))
    draft.delete(("vane", "swing"))
    draft.delete(("panel", 1, "pierced", 0))
    came, went = rows_changed(example(), draft.text)
    assert came == ["pierced = []"]
    assert 'swing = "45 deg"' in went
    assert 'name = "liferaft"' in went
    assert len(went) == 8


RENAMED = [
    ("marrowgrass", ("marks", "tent_aft_port"), "leech port", "tent_aft_port"),
    ("oddfellow", ("marks", "hood_foot_port"), "foot_of_hood", "hood_foot_port"),
    ("marrowgrass", ("tube", 0), "aft bow", "spray hood aft bow"),
    ("marrowgrass", ("panel", 1), "sun roof", "bimini"),
    ("marrowgrass", ("panel", 1, "edges", 0), "leading", "forward"),
    ("marrowgrass", ("set", 1), "in the sun", "shade"),
    ("lantern-hill", ("cloth", 0), "my cloth", "loft acrylic 9 1/4 oz"),
    ("lantern-hill", ("place", 0), "mattress", "mattress on the aft cabin"),
    ("lantern-hill", ("panel", 5, "edges", 1), "after", "aft"),
]


@pytest.mark.property
@pytest.mark.parametrize(("name", "path", "new", "old"), RENAMED, ids=[f"{case[0]} {case[2]}" for case in RENAMED])
def test_a_part_is_renamed_wherever_it_is_used(name, path, new, old, boat):
    draft = Draft(example(name), path=boat)
    text = draft.text
    draft.rename(path, new)
    design = draft.source().design  # every use was found, or this would raise
    assert new in str(design.model_dump())
    if len(path) == 2:
        assert f'"{old}"' not in draft.text.replace(f'"{new}"', "")
    draft.rename((*path[:-1], new) if path[0] == "marks" else path, old)
    assert draft.text == text or tomllib.loads(draft.text) == tomllib.loads(text)


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("path", "new", "wanted"),
    [
        (("tube", 0), "backstay", r'The name "backstay" is taken'),
        (("marks", "masthead"), "backstay_foot", r'a mark "backstay_foot" already'),
        (("tube", 40), "x", r"Name a part that the file has"),
        (("marks", "nowhere"), "x", r"Name a part that the file has"),
        (("hull",), "x", r"Only a part with a name"),
    ],
)
def test_renaming_refuses_what_cannot_be(path, new, wanted, boat):
    draft = open_draft(boat)
    with pytest.raises(DesignError, match=wanted):
        draft.rename(path, new)
    assert draft.text == example()


@pytest.mark.behaviour
@pytest.mark.parametrize(
    "path", [("hull", "flare", "x"), ("panel", 40, "name"), ("panel", 1, "edges", 9), ("solid", -1)]
)
def test_setting_refuses_a_place_that_is_not_there(path, boat):
    with pytest.raises(DesignError, match=r"Name a part that the file has"):
        open_draft(boat).set(path, 1)


@pytest.mark.behaviour
def test_a_file_changed_meanwhile_is_not_overwritten(boat):
    draft = open_draft(boat)
    draft.set(("revision",), "B")
    boat.write_text(example() + "# a thought\n", encoding="utf-8")
    with pytest.raises(DesignError, match=r"boat\.toml: found a file that changed since it was opened"):
        draft.save()
    assert boat.read_text(encoding="utf-8").endswith("# a thought\n")
    boat.unlink()
    with pytest.raises(DesignError, match="changed since it was opened"):
        draft.save()
    assert not boat.exists()


@pytest.mark.behaviour
def test_a_new_file_does_not_replace_one_that_is_there(boat):
    with pytest.raises(DesignError, match="changed since it was opened"):
        Draft('name = "new"\n', path=boat).save()
    fresh = boat.with_name("fresh.toml")
    Draft(example(), path=fresh).save()
    assert read_design(fresh).design == read_design(boat).design


@pytest.mark.behaviour
def test_saving_twice_is_right_and_follows_a_link(boat, tmp_path):
    link = tmp_path / "link.toml"
    link.symlink_to(boat)
    draft = open_draft(link)
    draft.set(("revision",), "B")
    draft.save()
    draft.set(("revision",), "C")
    draft.save()
    assert link.is_symlink()
    assert 'revision = "C"' in boat.read_text(encoding="utf-8")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["boat.toml", "link.toml"]


@pytest.mark.behaviour
def test_a_disk_that_refuses_leaves_the_old_file(boat, monkeypatch):
    draft = open_draft(boat)
    draft.set(("revision",), "B")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CouldNot, match="No space left on device"):
        draft.save()
    assert boat.read_text(encoding="utf-8") == example()
    assert [path.name for path in boat.parent.iterdir()] == ["boat.toml"]


@pytest.mark.behaviour
def test_going_back_and_forward_again(boat):
    draft = open_draft(boat)
    draft.set(("vane", "height"), "0.90 m")
    later = draft.text
    draft.restore(example())
    assert draft.value(("vane", "height")) == "0.82 m"
    draft.restore(later)
    assert draft.value(("vane", "height")) == "0.90 m"


@pytest.mark.behaviour
def test_a_draft_that_is_no_design_says_so_and_can_be_mended(boat):
    draft = open_draft(boat)
    draft.set(("vane", "height"), "tall")
    with pytest.raises(DesignError, match=r'vane\.height: found "tall"'):
        draft.source()
    draft.set(("vane", "height"), "0.80 m")
    assert draft.source().design.vane.height == 0.8


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("text", "code"), [("name = ", "not-toml"), ("[a\n", "not-toml"), ("a = 1\na = 2\n", "not-toml")]
)
def test_text_that_is_not_toml_is_not_opened(text, code, tmp_path):
    path = tmp_path / "boat.toml"
    path.write_text(text)
    with pytest.raises(DesignError) as refused:
        open_draft(path)
    assert refused.value.problems[0].code == code
