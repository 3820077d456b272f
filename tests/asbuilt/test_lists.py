"""Hold the lists of picked points and of targets, and what is typed with a scan, to clear words line by line."""

import numpy as np
import pytest

from canvas.asbuilt.picked import read_picked
from canvas.asbuilt.stuck import list_of, read_list, targets_for
from canvas.asbuilt.targets import COUNT
from canvas.design.problems import DesignError
from canvas.verbs.capture import direction_asked, distance_asked


def refused(read, path, text):
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DesignError) as found:
        read(path)
    problems = found.value.problems
    return [(one.code, one.line, one.key or None) for one in problems], " ".join(map(str, problems))


@pytest.mark.behaviour
def test_points_in_a_table_are_those_of_a_list(tmp_path):
    listed, table = tmp_path / "points.csv", tmp_path / "points.toml"
    listed.write_text("name;x;y;z;on\nport_winch;1,5;0;0\n", encoding="utf-8")
    with pytest.raises(DesignError, match="name, x, y, z"):  # a decimal comma is no number
        read_picked(listed)
    listed.write_text("# picked\nname,x,y,z,on\nport_winch,1.5,-0.5,2\nsole_aft,2,0,0,sole\n", encoding="utf-8")
    table.write_text(
        "[points]\nport_winch = [1.5, -0.5, 2]\nsole_aft = [2, 0, 0]\n[on]\nsole_aft = 'sole'\n", encoding="utf-8"
    )
    one, other = read_picked(listed), read_picked(table)
    assert one.names == other.names == ("port_winch", "sole_aft")
    assert np.array_equal(one.places, other.places)
    assert one.on == other.on == (None, "sole")


@pytest.mark.behaviour
def test_every_wrong_line_of_a_list_of_points_is_named(tmp_path):
    text = "name,x,y,z\na,1,2,3\nb,1,2\n,1,2,3\na,4,5,6\nc,1,nan,2\nd,1,2,3,soul\n"
    found, said = refused(read_picked, tmp_path / "points.csv", text)
    assert found == [
        ("point-unreadable", 3, None),
        ("point-unreadable", 4, None),
        ("point-unreadable", 6, None),
        ("twice-named", 5, "a"),
        ("unknown-face", 7, "d"),
    ]
    assert 'Did you mean "sole"' in said


@pytest.mark.behaviour
@pytest.mark.parametrize(
    ("text", "code", "key"),
    [
        ("[points]\na = [1, 2]\n", "point-unreadable", "a"),
        ("[points]\na = 'here'\n", "point-unreadable", "a"),
        ("[points]\na = [1, 2, inf]\n", "point-unreadable", "a"),
        ("points = 3\n", "points-unreadable", None),
        ("[points]\na = [1, 2, 3]\n[more]\nb = 1\n", "points-unreadable", None),
        ("[points]\n", "points-empty", None),
    ],
)
def test_a_table_of_points_that_is_none_is_refused(text, code, key, tmp_path):
    found, said = refused(read_picked, tmp_path / "points.toml", text)
    assert found == [(code, None, key)]
    assert "points.toml" in said


@pytest.mark.behaviour
def test_a_list_of_targets_comes_back_as_it_was_printed(tmp_path):
    stuck = targets_for(["winch_port", "hood, foot"], ties=2, size=0.08, behind={"winch_port": 0.012})
    path = tmp_path / "targets.csv"
    path.write_text(list_of(stuck), encoding="utf-8")
    assert read_list(path) == stuck
    assert [one.mark for one in stuck] == ["winch_port", "hood, foot", "tie 3", "tie 4"]
    with pytest.raises(DesignError, match=f"At most {COUNT - 1}"):
        targets_for([f"mark_{k}" for k in range(COUNT)], ties=0, size=0.08, behind={})


@pytest.mark.behaviour
def test_every_wrong_line_of_a_list_of_targets_is_named(tmp_path):
    path = tmp_path / "targets.csv"
    text = f"number,mark,size_mm,behind_mm\n1,a,80,0\n1,b,80,0\n2,a,80\n0,c,80,0\n{COUNT},d,80\n3,e,2000\n4,f\n5,g,x\n"
    found, _ = refused(read_list, path, text)
    assert found == [("twice-named", 3, None), ("twice-named", 4, None)] + [
        ("target-unreadable", line, None) for line in (5, 6, 7, 8, 9)
    ]
    assert refused(read_list, path, "number,mark,size_mm\n")[0] == [("targets-empty", None, None)]
    with pytest.raises(DesignError, match="no such file"):
        read_list(tmp_path / "none.csv")


@pytest.mark.behaviour
def test_a_row_longer_than_any_list_is_no_row(tmp_path):
    found, said = refused(read_list, tmp_path / "targets.csv", "number,mark\n1," + 200_000 * "a" + "\n")
    assert found == [("list-unreadable", 2, None)]
    assert "a line of 200002 letters" in said


@pytest.mark.behaviour
def test_a_distance_and_a_direction_are_typed_as_people_say_them():
    found = distance_asked("winch_port winch_stbd 6 ft 1 in")
    assert (found.a, found.b) == ("winch_port", "winch_stbd")
    assert found.length == pytest.approx(73 * 0.0254)
    for text, towards in (("z", [0, 0, 1]), (" -Y ", [0, -1, 0]), ("+x", [1, 0, 0]), ("0.02, 0.99, 0.1", None)):
        assert direction_asked(text) == pytest.approx(towards or [0.02, 0.99, 0.1])
    for text, said in (("winch_port 1.85", "two picked points"), ("winch_port 1.85 m", "a length"), ("", "two picked")):
        with pytest.raises(ValueError, match=said):
            distance_asked(text)
    for text in ("up", "1, 2", "0, 0, 0", "1, nan, 0", ""):
        with pytest.raises(ValueError, match="an axis of the scan"):
            direction_asked(text)
