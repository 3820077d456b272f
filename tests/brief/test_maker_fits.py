"""The maker's brief fits its pages, on every example, with each dimension saying how it is known."""

import pytest

from canvas import verbs
from canvas.brief.blocks import Figure
from canvas.brief.maker import BriefContents, maker_brief
from canvas.brief.paper import pdf_of, text_room
from tests.whole.boats import EXAMPLES


@pytest.fixture(scope="module", params=["marrowgrass", "oddfellow", "lantern-hill"])
def contents(request):
    """Return a boat whose panels are not cut yet: the drawings of its sets are those of the whole brief."""
    rigging = verbs.rigging_of(EXAMPLES / f"{request.param}.toml")
    return BriefContents(rigging=rigging, cut=None, takes=(), records={}, carried=None)


@pytest.mark.behaviour
@pytest.mark.parametrize(("paper", "unit"), [("A4", "ft"), ("Letter", "m")])
def test_every_drawing_fits_the_page_with_what_is_written_beside_it(contents, paper, unit):
    document = maker_brief(contents, paper=paper, units=unit)
    drawn = [block.drawing for block in document.blocks if isinstance(block, Figure)]
    views = [one for one in drawn if "1:" in one.title]
    assert len(views) >= 4
    wide, high = text_room(paper)
    assert max(one.width for one in drawn) <= wide
    assert max(one.height for one in drawn) <= high
    assert pdf_of(document, paper=paper).startswith(b"%PDF")
