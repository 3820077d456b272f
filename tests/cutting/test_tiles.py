import itertools
import re
import shutil
import subprocess

import numpy as np
import pymupdf
import pytest
from PIL import Image

from canvas.cutting.sheet import Layer, Line, Sheet, Text
from canvas.cutting.tiles import MARGIN, OVERLAP, PAPERS, plan_tiles, tiles_pdf
from canvas.design.problems import DesignError

DPI = 300
PIXEL = 0.0254 / DPI
MM = 0.001


def big_sheet():
    t = np.linspace(0, 2 * np.pi, 200)
    outline = np.stack([0.31 + 0.30 * np.cos(t), 0.42 + 0.40 * np.sin(t)], axis=1)
    cross = np.array([[0.1, 0.1], [0.5, 0.7]])
    return Sheet(
        title="trial", notes=("revision A",),
        items=(
            Line(layer=Layer.CUT, points=outline, closed=True), Line(layer=Layer.SEW, points=cross),
            Text(at=np.array([0.31, 0.42]), text="roof", height=0.01),
        ),
    )  # fmt: skip


def raster(page):
    """Return a page's darkness at 300 dpi, row 0 at the bottom."""
    pixels = page.get_pixmap(dpi=DPI, colorspace=pymupdf.csGRAY)
    grey = np.frombuffer(pixels.samples, dtype=np.uint8).reshape(pixels.height, pixels.stride)[:, : pixels.width]
    return 255 - grey[::-1].astype(float)


def strokes(page):
    """Return the straight strokes of a page as (x0, y0, x1, y1, grey) in metres from its lower left corner."""
    height = page.rect.height
    found = []
    for path in page.get_drawings():
        for item in path["items"]:
            if item[0] == "l":
                a, b = item[1], item[2]
                corners = np.array([a.x, height - a.y, b.x, height - b.y]) * 0.0254 / 72
                found.append((*corners, path["color"]))
            elif item[0] == "re":
                r = item[1]
                found.append((*(np.array([r.x0, height - r.y1, r.x1, height - r.y0]) * 0.0254 / 72), "rect"))
    return found


def cross_centre(dark, x, y):
    """Return the centre of the cross near (x, y) in a raster [m], by where its two arms are darkest."""
    reach = 0.003
    i0, i1 = round((y - reach) / PIXEL), round((y + reach) / PIXEL)
    j0, j1 = round((x - reach) / PIXEL), round((x + reach) / PIXEL)
    box = dark[i0:i1, j0:j1]
    arm = box > 60  # an arm runs right through the box; what is drawn there besides does not
    rows, columns = (np.where(arm.mean(axis=k) > 0.95, box.sum(axis=k), 0) for k in (1, 0))
    return (j0 + 0.5 + middle_run(columns)) * PIXEL, (i0 + 0.5 + middle_run(rows)) * PIXEL


def middle_run(weight):
    """Return the weighted centre of the run of non-zero weights nearest the middle."""
    on = np.flatnonzero(weight)
    nearest = on[np.argmin(np.abs(on - len(weight) / 2))]
    run = [k for k in on if abs(k - nearest) <= 2]
    return float(weight[run] @ run / weight[run].sum())


@pytest.mark.property
@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
def test_crosses_are_where_they_should_be_when_rendered(paper):
    plan = plan_tiles(big_sheet(), paper=paper)
    document = pymupdf.open(stream=tiles_pdf([big_sheet()], paper=paper, title="t"), filetype="pdf")
    assert len(document) == 1 + len(plan.filled)
    for page in list(document)[1:]:
        assert page.rect.width * 0.0254 / 72 == pytest.approx(PAPERS[paper][0], abs=1e-4)
        dark = raster(page)
        low = MARGIN + OVERLAP / 2
        a = cross_centre(dark, low, low)
        b = cross_centre(dark, low + plan.step[0], low)
        c = cross_centre(dark, low, low + plan.step[1])
        assert b[0] - a[0] == pytest.approx(plan.step[0], abs=0.3 * MM)
        assert c[1] - a[1] == pytest.approx(plan.step[1], abs=0.3 * MM)


@pytest.mark.property
def test_pages_stitched_at_their_crosses_give_the_sheet_back():
    """Render at 300 dpi, lay page on page by the crosses' nominal grid, and find the outline where it was drawn."""
    sheet = big_sheet()
    plan = plan_tiles(sheet, paper="A4")
    document = pymupdf.open(stream=tiles_pdf([sheet], paper="A4", title="t"), filetype="pdf")
    outline = sheet.items[0].points
    seen = np.zeros(len(outline), dtype=bool)
    for (row, column), page in zip(plan.filled, list(document)[1:], strict=True):
        dark = raster(page)
        low = MARGIN + OVERLAP / 2
        corner = np.array(cross_centre(dark, low, low))
        origin = plan.low(row, column) + OVERLAP / 2  # the sheet's point under that cross
        for k, point in enumerate(outline):
            x, y = corner + point - origin
            if (
                MARGIN + 0.001 < x < plan.paper[0] - MARGIN - 0.001
                and MARGIN + 0.001 < y < plan.paper[1] - MARGIN - 0.001
            ):
                i, j = int(y / PIXEL), int(x / PIXEL)
                near = dark[i - 4 : i + 5, j - 4 : j + 5]  # 0.3 mm either way
                assert near.max() > 100
                seen[k] = True
    assert seen.all()


def poppler(pdf, folder):
    """Return every page as pdftoppm renders it at 300 dpi: darkness, row 0 at the bottom."""
    tool = shutil.which("pdftoppm")
    if tool is None:
        pytest.skip("pdftoppm is not installed")
    (folder / "tiles.pdf").write_bytes(pdf)
    command = [tool, "-r", str(DPI), "-gray", str(folder / "tiles.pdf"), str(folder / "page")]
    subprocess.run(command, check=True, capture_output=True)
    return [255 - np.asarray(Image.open(path))[::-1] for path in sorted(folder.glob("page-*.pgm"))]


@pytest.mark.property
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_poppler_pages_stitched_at_their_crosses_give_the_sheet_back(paper, tmp_path):
    """Another program than reads them above: crosses 0.3 mm, check square 0.1 mm, the outline within 0.3 mm."""
    sheet = big_sheet()
    plan = plan_tiles(sheet, paper=paper)
    pages = poppler(tiles_pdf([sheet], paper=paper, title="t"), tmp_path)
    assert len(pages) == 1 + len(plan.filled)
    low = MARGIN + OVERLAP / 2
    seen = np.zeros(len(sheet.items[0].points), dtype=bool)
    for (row, column), dark in zip(plan.filled, pages[1:], strict=True):
        corner = np.array(cross_centre(dark, low, low))
        across = cross_centre(dark, low + plan.step[0], low)[0] - corner[0]
        down = cross_centre(dark, low, low + plan.step[1])[1] - corner[1]
        assert (across, down) == pytest.approx(plan.step, abs=0.3 * MM)
        origin = plan.low(row, column) + OVERLAP / 2
        places = corner + sheet.items[0].points - origin
        inside = np.all((places > MARGIN + MM) & (places < np.array(plan.paper) - MARGIN - MM), axis=1)
        for k in np.flatnonzero(inside):
            i, j = (places[k][::-1] / PIXEL).astype(int)
            assert dark[i - 4 : i + 5, j - 4 : j + 5].max() > 100
            seen[k] = True
        assert squares_of(dark) == pytest.approx([100 * MM, 101.6 * MM], abs=0.1 * MM)
    assert seen.all()


def squares_of(dark):
    """Return the widths of the two check squares round the middle of a page, from their upright sides."""
    middle = round(dark.shape[0] / 2 + 0.02 / PIXEL)
    on = np.flatnonzero((dark[middle - 40 : middle + 40] > 20).mean(axis=0) > 0.95)
    sides = [run.mean() * PIXEL for run in np.split(on, np.flatnonzero(np.diff(on) > 2) + 1)]
    return [min((b - a for a in sides for b in sides), key=lambda width: abs(width - w)) for w in (0.100, 0.1016)]


@pytest.mark.property
@pytest.mark.parametrize("paper", ["A4", "Letter", "A1", "roll"])
def test_check_squares_measure_100_mm_and_4_in(paper):
    document = pymupdf.open(stream=tiles_pdf([big_sheet()], paper=paper, title="t"), filetype="pdf")
    for page in list(document)[1:]:
        squares = sorted(
            s[2] - s[0] for s in strokes(page) if s[4] == "rect" and abs((s[2] - s[0]) - (s[3] - s[1])) < 1e-6
        )
        squares = [s for s in squares if 0.09 < s < 0.11]
        assert squares == pytest.approx([0.100, 0.1016], abs=0.1 * MM)


@pytest.mark.property
def test_check_square_in_the_raster():
    document = pymupdf.open(stream=tiles_pdf([big_sheet()], paper="A4", title="t"), filetype="pdf")
    dark = raster(document[1])
    middle_row = dark[round(dark.shape[0] / 2 + 0.02 / PIXEL) - 40 : round(dark.shape[0] / 2 + 0.02 / PIXEL) + 40]
    column = (middle_row > 20).mean(axis=0) > 0.95  # upright lines that run on through 80 rows
    centres = np.flatnonzero(column) * PIXEL
    span = [b - a for a in centres for b in centres if 0.099 < b - a < 0.101]
    assert min(abs(s - 0.100) for s in span) <= 0.1 * MM


@pytest.mark.behaviour
def test_every_page_says_where_it_belongs():
    plan = plan_tiles(big_sheet(), paper="A4")
    document = pymupdf.open(stream=tiles_pdf([big_sheet()], paper="A4", title="t"), filetype="pdf")
    assert "map of pages" in document[0].get_text()
    assert "100 %" in document[0].get_text()
    for (row, column), page in zip(plan.filled, list(document)[1:], strict=True):
        text = page.get_text()
        assert f"row {row} of {plan.rows}, column {column} of {plan.columns}" in text
        assert "inner square 100 mm" in text
        assert "outer square 4 in" in text


@pytest.mark.property
@pytest.mark.parametrize("length", [0.6, 6.0, 14.0])
def test_numbers_on_the_map_of_pages_stay_in_their_own_page(length):
    outline = np.array([[0.0, 0.0], [length, 0.0], [length, 0.6], [0.0, 0.6]])
    sheet = Sheet(title="awning", items=(Line(layer=Layer.CUT, points=outline, closed=True),))
    document = pymupdf.open(stream=tiles_pdf([sheet], paper="A4", title="t"), filetype="pdf")
    words = [word for word in document[0].get_text("words") if re.fullmatch(r"\d+-\d+", word[4])]
    numbers = [pymupdf.Rect(word[:4]) for word in words]
    assert len(numbers) == len(plan_tiles(sheet, paper="A4").filled)
    assert not any(a.intersects(b) for a, b in itertools.combinations(numbers, 2))


@pytest.mark.behaviour
def test_an_unknown_paper_offers_the_nearest():
    with pytest.raises(DesignError, match=r'found "A44".*Did you mean "A4"'):
        plan_tiles(big_sheet(), paper="A44")


@pytest.mark.behaviour
def test_empty_pages_are_left_out():
    sheet = Sheet(
        title="two spots",
        items=tuple(
            Line(layer=Layer.CUT, points=np.array([[0, 0], [0.05, 0], [0.05, 0.05]]) + at, closed=True)
            for at in (np.zeros(2), np.array([0.9, 1.2]))
        ),
    )
    plan = plan_tiles(sheet, paper="A4")
    assert len(plan.filled) < plan.rows * plan.columns
