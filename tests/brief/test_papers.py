"""Papers come on what the design's [shop] prints on, unless another is asked for, and stay inside their margins."""

import numpy as np
import pymupdf
import pytest
from typer.testing import CliRunner

from canvas import verbs
from canvas.brief.paper import MARGIN, READ_ON, paper_of
from canvas.brief.pdf import PAPERS
from canvas.cli import app
from canvas.design.reading import parse_design
from canvas.design.schema.voyage import Shop
from tests.whole.boats import EXAMPLES, small_text

VERBS = (verbs.brief, verbs.sheet, verbs.mockup, verbs.target_sheet)


@pytest.fixture(scope="module", params=READ_ON)
def shop(request):
    """Return a paper, and the small boat of a shop that prints on it."""
    text = f'{small_text()}\n[shop]\npaper = "{request.param}"\n'
    return request.param, verbs.rigging_of(parse_design(text, file="skua.toml", folder=EXAMPLES))


def pages_of(answer):
    """Return the pages of an answer's PDFs."""
    return [
        page
        for name, content in answer.files.items()
        if name.endswith(".pdf")
        for page in pymupdf.open(stream=content, filetype="pdf")
    ]


def size_of(page):
    """Return a page's width and height [m]."""
    return page.rect.width / 72 * 0.0254, page.rect.height / 72 * 0.0254


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", VERBS, ids=lambda verb: verb.__name__)
def test_papers_come_on_the_shops_paper_inside_its_margins(shop, verb):
    paper, rigging = shop
    pages = pages_of(verb(rigging))
    assert pages
    for page in pages:
        assert size_of(page) == pytest.approx(PAPERS[paper], abs=1e-5)
        drawn = page.get_pixmap(dpi=127, colorspace="gray")  # 0.2 mm
        inked = np.frombuffer(drawn.samples, np.uint8).reshape(drawn.h, drawn.stride)[:, : drawn.w] < 250
        rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
        left = min(rows[0], drawn.h - 1 - rows[-1], columns[0], drawn.w - 1 - columns[-1])
        assert left * 0.0002 > MARGIN - 0.0006  # boxes are drawn along the middle of their lines


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", VERBS[1:], ids=lambda verb: verb.__name__)
def test_paper_that_is_asked_for_wins(shop, verb):
    paper, rigging = shop
    other = READ_ON[1 - READ_ON.index(paper)]
    for page in pages_of(verb(rigging, paper=other)):
        assert size_of(page) == pytest.approx(PAPERS[other], abs=1e-5)


@pytest.mark.behaviour
@pytest.mark.parametrize("words", [["sheet"], ["mockup"], ["sheet", "--paper", "A4"]], ids=" ".join)
def test_a_command_without_paper_follows_the_design(tmp_path, words):
    (tmp_path / "skua.toml").write_text(f'{small_text()}\n[shop]\npaper = "Letter"\n', encoding="utf-8")
    asked = [words[0], str(tmp_path / "skua.toml"), "-o", str(tmp_path / "out.pdf"), *words[1:]]
    assert CliRunner().invoke(app, asked).exit_code == 0
    (file, *_) = sorted(tmp_path.glob("out*.pdf"))
    wanted = PAPERS["A4" if "--paper" in words else "Letter"]
    assert size_of(pymupdf.open(file)[0]) == pytest.approx(wanted, abs=1e-5)


@pytest.mark.behaviour
@pytest.mark.parametrize("paper", ["A3", "A1", "roll"])
def test_paper_for_patterns_only_leaves_documents_on_a4(paper):
    assert paper_of(Shop(paper=paper), None) == "A4"
    assert paper_of(Shop(), None) == "A4"
    assert paper_of(Shop(paper=paper), "Letter") == "Letter"
