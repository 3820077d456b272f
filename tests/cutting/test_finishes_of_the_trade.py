"""Every edge finish that canvas makers name is there, with what each decides: allowance, goods, rows and weight."""

import pytest

from canvas.cutting.finish import read_finishes
from canvas.design.tables import fastenings, finishes

# as makers name them; what to buy by the metre or piece, where it is more than thread
TRADE = {
    "raw": None,
    "binding": "binding tape",
    "hem": None,
    "webbing hem": "webbing 25",
    "bolt rope": "bolt rope",
    "zip": "zip",
    "zip with flap": "zip",
    "batten pocket": "batten",
    "tube pocket": None,
    "lacing facing": "lacing eye",
    "hook and loop": "hook and loop 50",
    "press studs": "press stud",
    "twist studs": "twist stud",
    "lashing points": "lashing eye",
}


@pytest.mark.behaviour
@pytest.mark.parametrize("name", TRADE)
def test_a_finish_of_the_trade_decides_allowance_goods_rows_and_weight(name):
    bought, drawn = finishes()[name], read_finishes()[name]
    goods = [one for one in (bought.tape, bought.fastening) if one is not None]
    assert (TRADE[name] in goods) if TRADE[name] else not goods
    assert all(fastenings()[one].mass > 0 for one in goods)
    assert bought.rows >= 1 or name == "raw"
    assert drawn.allowance > 0 or name in ("raw", "binding")
    assert drawn.corner in ("mitre", "square", "tube end", "cut")
    assert len(drawn.section) > 10


@pytest.mark.behaviour
def test_no_finish_is_left_out_of_that_list():
    joins = {"seam", "flat felled seam", "overlap seam", "window", "dart"}
    lower = {"flat felled seam, under", "overlap seam, under"}
    assert set(TRADE) | joins | lower == set(read_finishes())
    assert {name for name, one in finishes().items() if one.inner} == {*lower, "dart"}
