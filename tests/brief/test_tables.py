"""Hold the tables for people to say units and names as they are."""

import pytest

from canvas.brief.tables import print_answer

RECORD = {
    "schema": "cockpit-canvas/check", "design": "Skua [old]", "problems": [
        {"severity": "note", "line": 3, "key": 'panel "roof [port]"', "found": "a [bold] word", "wanted": "Another."}
    ],
    "sets": [
        {"name": "bare", "cautions": [], "problems": [], "panels": []},
        {
            "name": "wet [watch]", "cautions": ["Mind [this]."], "problems": [],
            "panels": [{"name": "roof [port]", "area_m2": 1.25, "length_m": 2.0, "turn_deg": 4.0, "used_share": 0.5}],
        }
    ],
}  # fmt: skip


@pytest.mark.behaviour
def test_units_and_names_in_brackets_are_printed_as_they_are(capsys):
    print_answer(RECORD)
    said = capsys.readouterr().out
    for words in ("Skua [old]", 'panel "roof [port]": a [bold] word. Another.', "wet [watch]", "! Mind [this]."):
        assert words in said
    assert "bare" not in said  # of which there is nothing to say
    head, row = (line.split("  ") for line in said.splitlines() if "roof [port]  " in line or "area [" in line)
    assert [one.strip() for one in head if one] == ["name", "area [m²]", "length [m]", "turn [°]", "used (share)"]
    assert [one.strip() for one in row if one.strip()] == ["roof [port]", "1.25", "2", "4", "0.5"]
