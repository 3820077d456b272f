"""Hold the tables for people to say units and names as they are."""

import re

import pytest

from canvas.brief.heads import Head, head_of
from canvas.brief.tables import print_answer

RECORD = {
    "schema": "cockpit-canvas/check", "design": "Skua [old] :cat:", "problems": [
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
    for words in ("Skua [old] :cat:", 'panel "roof [port]": a [bold] word. Another.', "wet [watch]", "! Mind [this]."):
        assert words in said
    assert "bare" not in said  # of which there is nothing to say
    head, row = (line.split("  ") for line in said.splitlines() if "roof [port]  " in line or "area [" in line)
    assert [one.strip() for one in head if one] == ["name", "area [m²]", "length [m]", "turn [°]", "used"]
    assert [one.strip() for one in row if one.strip()] == ["roof [port]", "1.25", "2", "4", "50 %"]


@pytest.mark.behaviour
def test_a_place_in_the_file_heads_its_column_as_it_is_written(capsys):
    variants = [{"name": "a_b", "values": [{"name": "marks.tent_aft_port[2]", "value_m": 1.1}], "cloth_m2": 2.0}]
    print_answer({**RECORD, "sets": [{"name": "tent", "cautions": [], "problems": [], "variants": variants}]})
    head = next(line for line in capsys.readouterr().out.splitlines() if "cloth" in line)
    assert head.split() == ["name", "marks.tent_aft_port[2]", "cloth", "[m²]"]


@pytest.mark.behaviour
def test_a_row_that_names_its_unit_or_measure_is_printed_in_it(capsys):
    rows = {
        "checks": [
            {"name": "water hidden", "unit": "share", "value": 0.97826, "limit": 0.25, "sd": None},
            {"name": "headroom", "unit": "m", "value": 0.91, "limit": 0.95, "sd": 0.02},
        ],
        "effects": [
            {"measure": "shade_share", "change": -0.0257},
            {"measure": "cloth_m2", "change": 0.5251},
            {"measure": "wind left, of bare", "change": 0.9},
            {"measure": "speed_ratio", "change": -5.474e-07},
        ],
        "partial_order": [{"panel": "roof", "place": 1}],
    }
    print_answer({**RECORD, "sets": [{"name": "tent", "cautions": [], "problems": [], **rows}]})
    said = capsys.readouterr().out
    found = [re.split(r"\s{2,}", line.strip()) for line in said.splitlines()]
    assert ["water hidden", "share", "98 %", "25 %", "-"] in found
    assert ["headroom", "m", "0.91", "0.95", "0.02"] in found
    assert ["shade", "-2.6 %"] in found
    assert ["cloth [m²]", "0.5251"] in found
    assert ["wind left, of bare", "0.9"] in found
    assert ["speed ratio", "0"] in found
    assert "which piece to make first" in said


@pytest.mark.behaviour
def test_what_fails_stands_on_top_of_the_checks(capsys):
    verdicts = ("not applicable", "pass", "close", "fail", "unknown", "pass")
    checks = [{"name": f"check {k}", "verdict": verdict} for k, verdict in enumerate(verdicts)]
    print_answer({**RECORD, "sets": [{"name": "tent", "cautions": [], "problems": [], "checks": checks}]})
    assert re.findall(r"check (\d)", capsys.readouterr().out) == ["3", "2", "4", "1", "5", "0"]


@pytest.mark.behaviour
def test_a_sentence_that_there_is_nothing_is_followed_by_no_noughts(capsys):
    idle = {
        "name": "shade", "cautions": [], "problems": [], "sentence": "Nothing new to buy.", "cloth": [],
        "thread_m": 0.0, "total_low": None, "currency": "EUR",
    }  # fmt: skip
    print_answer({**RECORD, "sets": [idle, {**idle, "name": "tent", "sentence": "Total: 12 EUR.", "thread_m": 9.5}]})
    said = capsys.readouterr().out
    shade, tent = said[said.index("shade") :].split("tent\n")
    assert shade.split("\n") == ["shade", "Nothing new to buy.", "", ""]
    assert tent.split("\n") == ["Total: 12 EUR.", "thread [m]: 9.5", "total low: -", "currency: EUR", ""]


@pytest.mark.behaviour
def test_how_to_measure_comes_after_the_answer(capsys):
    print_answer({**RECORD, "protocol": "Hold the meter still."})
    said = capsys.readouterr().out
    assert (
        said.index("wet [watch]") < said.index("To measure it on board: Hold the meter still.") < said.index("! Mind")
    )


@pytest.mark.behaviour
def test_a_long_list_all_round_is_printed_from_every_side(capsys):
    angles = [{"awa_deg": awa, "aws_kn": aws, "wet_share": 0.0123} for aws in (10, 30) for awa in range(-175, 181, 5)]
    parts = [{"name": f"part {k}", "load_n": k} for k in range(60)]
    one = {"name": "tent", "cautions": [], "problems": [], "angles": angles, "parts": parts}
    print_answer({**RECORD, "sets": [one]})
    said = capsys.readouterr().out
    title = "angles, one row of every 3, 144 in all"
    assert title in said
    rows = [line.split() for line in said.partition(title)[2].splitlines()[2:50]]
    assert [(int(awa), int(aws)) for awa, aws, *_ in rows] == [(a["awa_deg"], a["aws_kn"]) for a in angles[::3]]
    assert {" ".join(wet) for _, _, *wet in rows} == {"1.2 %"}
    assert "parts, the first 48 of 60" in said
    assert "part 47 " in said
    assert "part 48 " not in said


@pytest.mark.behaviour
@pytest.mark.parametrize(("key", "what", "unit", "share", "end"), [
    ("name", "name", None, False, None),
    ("limit_aws_kn_low", "limit aws", "kn", False, "low"),
    ("work_high_h", "work high", "h", False, None),
    ("rain_rate_mm_h", "rain rate", "mm/h", False, None),
    ("long_by_mm", "long by", "mm", False, None),
    ("cost_per_shaded_h", "cost per shaded h", None, False, None),
    ("litres_open_h", "litres open", "l/h", False, None),
    ("shade_share_high", "shade", None, True, "high"),
    ("covers_share_most", "covers most", None, True, None),
    ("share_of_yield", "share of yield", None, True, None),
    ("share", "share", None, True, None),
    ("shared_by", "shared by", None, False, None),
    ("distance_nm", "distance", "nm", False, None),
    ("uv_sed", "uv", "SED", False, None),
])  # fmt: skip
def test_a_key_says_its_unit_and_its_end(key, what, unit, share, end):
    found = head_of(key)
    assert found == Head(what=what, unit=unit, share=share, end=end)


@pytest.mark.behaviour
def test_cells_that_fold_or_break_leave_rows_side_by_side(capsys):
    parts = [
        {"name": "a", "note": "words that are much longer than sixteen letters", "load_n": 1},
        {"name": "b\nc", "note": "short", "load_n": 2},
        {"name": "d", "note": "-", "load_n": 3},
    ]
    for rows in (parts, parts[1:], parts[2:] * 3):
        print_answer({**RECORD, "sets": [{"name": "tent", "cautions": [], "problems": [], "parts": rows}]})
        lines = capsys.readouterr().out.splitlines()
        for row in rows:
            first = row["name"].splitlines()[0]
            assert [line.split()[-1] for line in lines if line.startswith(f"{first} ")] == [
                str(row["load_n"])
            ] * rows.count(row)
