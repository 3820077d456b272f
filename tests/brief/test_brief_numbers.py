"""Every number of the maker's brief against the records, key by key; its text whole; a maker's questions answered.

The printed text is read with pdftotext, another program than the one that wrote it.
"""

import re
import shutil
import subprocess
from types import SimpleNamespace

import pytest

from canvas import verbs
from canvas.brief.blocks import BOX, Bullets, Figure, Grid, Heading, Prose
from canvas.brief.drawing import Words
from canvas.brief.known import edge_known, worst
from canvas.cutting.result import EdgeResult
from canvas.design.units import FOOT, length
from canvas.verbs import briefing, making
from tests.whole.boats import EXAMPLES

TOOL = shutil.which("pdftotext")
pytestmark = pytest.mark.skipif(TOOL is None, reason="pdftotext is not installed: apt install poppler-utils")
PAPERS = [("marrowgrass", "A4", "m"), ("oddfellow", "Letter", "ft")]
SOLVED = "wet watch"
COURSES = [
    {"name": "close-hauled", "verdict": "pass", "lowest_aws_kn": 5.4088},
    {"name": "run 120", "verdict": "unknown", "lowest_aws_kn": None},
    {"name": "at anchor", "verdict": "fail", "lowest_aws_kn": None},
]
MARKED = re.compile(r"(measured|mocked up) ± .+|assumed")


def pages_of(pdf, folder):
    """Return the words of each page, one blank between them, as another program reads them."""
    path = folder / "brief.pdf"
    path.write_bytes(pdf)
    done = subprocess.run([TOOL, "-raw", str(path), "-"], check=True, capture_output=True)
    return [" ".join(page.split()) for page in done.stdout.decode("utf-8").split("\f")]


@pytest.fixture(scope="module", params=PAPERS, ids=lambda one: one[0])
def brief(request, tmp_path_factory):
    """Return a boat, the unit, the document, its printed pages and the records it must agree with."""
    name, paper, unit = request.param
    rigging = verbs.rigging_of(EXAMPLES / f"{name}.toml")
    kept = {}

    def once(what):
        """Keep what a function gives, and give it again to whoever asks: same boat, same answer."""
        ask = getattr(briefing, what)

        def keep(*a, **k):
            return kept[what] if what in kept else kept.setdefault(what, ask(*a, **k))

        patch.setattr(briefing, what, keep)

    with pytest.MonkeyPatch.context() as patch:
        for what in ("maker_brief", "cut_result", "fit", "vane"):
            once(what)
        solved = {"sets": [{"name": SOLVED, "courses": COURSES}]}
        patch.setattr(briefing, "vane_kept", lambda *_, **__: SimpleNamespace(record=lambda: solved))
        answer = verbs.brief(rigging, paper=paper, units=unit)
        answers = {"cut": making.cut(rigging), "buy": making.buy(rigging), "fit": kept["fit"], "vane": kept["vane"]}
    pages = pages_of(answer.files["brief.pdf"], tmp_path_factory.mktemp(name))
    records = {verb: one.record() for verb, one in answers.items()}
    made = [one["name"] for one in records["buy"]["sets"] if one["cloth"]]
    assert [one["name"] for one in records["fit"]["sets"]] == made
    sailed = [name for name in made if "under way" in rigging.model.design.set_named(name).used]
    assert [one["name"] for one in records["vane"]["sets"]] == sailed
    return rigging, unit, kept["maker_brief"], pages, records


def grids(document, *heads):
    """Return the tables whose first heads are these."""
    return [one for one in document.blocks if isinstance(one, Grid) and one.heads[: len(heads)] == heads]


def texts_of(document):
    """Return all that is said, but for what the crew decided, which is told in their own words."""
    for block in document.blocks:
        if isinstance(block, Heading | Prose):
            yield block.text
        elif isinstance(block, Bullets):
            yield from block.items
        elif isinstance(block, Figure):
            yield block.caption
            yield from (item.text for item in block.drawing.items if isinstance(item, Words))
        elif block.heads[0] != "date":
            yield from (block.title, *block.heads, *(cell for row in block.rows for cell in row))


def near(text, metres, unit):
    """Whether a length in words is the one of the record: both are rounded once, to 0.1 mm and to a millimetre."""
    step = 0.0016 if unit == "ft" else 0.0006
    return length(text) == pytest.approx(metres, abs=step)


@pytest.mark.behaviour
def test_every_edge_is_the_cuts(brief):
    _, unit, document, _, records = brief
    edges = {(edge["panel"], edge["name"]): edge for one in records["cut"]["sets"] for edge in one["edges"]}
    seen = 0
    for grid in grids(document, "edge", "lies along"):
        for name, _, finish, said, _, _, cut_as, known in grid.rows:
            edge = edges[grid.title, name]
            assert finish == edge["finish"]
            assert near(said, edge["length_m"], unit)
            assert {"final": cut_as == "final", "long": cut_as.startswith("long by"),
                    "patterned on board": cut_as.startswith("patterned on board")}[edge["fit"]]  # fmt: skip
            if edge["fit"] != "final":
                assert length(cut_as.rpartition("by ")[2]) == pytest.approx(edge["long_by_mm"] / 1000, abs=0.0016)
            if edge["sd_m"] is None:
                assert known == "assumed"
            else:
                word, _, tolerance = known.partition(" ± ")
                assert word == "measured"
                assert length(tolerance) == pytest.approx(2 * edge["sd_m"] + edge["play_m"], abs=0.0016)
            seen += 1
    assert seen == len(edges)


@pytest.mark.behaviour
def test_panels_zips_spares_and_weights_are_the_orders(brief):
    rigging, unit, document, _, records = brief
    ordered = [one for one in records["buy"]["sets"] if one["cloth"]]
    panels = {row["name"]: row for one in ordered for row in one["panels"]}
    (schedule,) = grids(document, "panel", "cloth")
    assert [row[0] for row in schedule.rows] == [p.name for p in rigging.model.design.panel if not p.existing]
    for name, *_, area, mass in schedule.rows:
        assert area == f"{panels[name]['area_m2']:.2f} m²"
        assert mass == f"{panels[name]['mass_kg']:.2f} kg"
    zips = {row["name"]: row for one in ordered for row in one["zips"]}
    (listed,) = grids(document, "zip", "mates")
    assert {row[0] for row in listed.rows} == set(zips)
    for name, mates, said, half, kind, opens, _ in listed.rows:
        zip_ = zips[name]
        assert near(said.partition(", ")[0], zip_["length_m"], unit)
        assert mates == zip_["mates"]
        assert half.startswith(zip_["half"] or "either")
        assert kind == (
            ", ".join(filter(None, [zip_["gauge"] and f"gauge {zip_['gauge']}", zip_["tooth"]])) or "not said"
        )
        assert opens == (f"slider parks at the {zip_['slider_end']}" if zip_["slider_end"] else "not said")
    (kit,) = grids(document, "set", "spare")
    spares = [(one["name"], row) for one in ordered for row in one["spares"]]
    for (name, spare, take, worn), (set_name, row) in zip(kit.rows, spares, strict=True):
        assert (name, spare) == (set_name, row["name"])
        long = FOOT if take.endswith(" ft") else 1.0
        assert (row["each"] == "m") == take.endswith((" ft", " m"))
        assert float(take.split()[0]) * long == pytest.approx(row["amount"], abs=0.051)
        assert float(worn.split()[0]) * long == pytest.approx(row["worn"], abs=0.051)
    (aloft,) = grids(document, "set", "what")
    hung = [(one["name"], row) for one in ordered for row in one["aloft"]]
    for (name, what, mass, height), (set_name, row) in zip(aloft.rows, hung, strict=True):
        assert (name, what) == (set_name, row["name"])
        assert mass == f"{row['mass_kg']:.2f} kg"
        assert near(height, row["over_water_m"], unit)


@pytest.mark.behaviour
def test_every_agreed_number_is_the_checks(brief):
    _, unit, document, _, records = brief
    (agreed,) = grids(document, "set", "check")
    rows = iter(agreed.rows)
    counted = 0
    for one in records["fit"]["sets"]:
        for check in one["checks"]:
            if check["verdict"] == "not applicable":
                continue
            name, what, value, limit, verdict, box = next(rows)
            assert (name, what, verdict, box) == (one["name"], check["name"], check["verdict"], BOX)
            for said, key in ((value, "value"), (limit, "limit")):
                if check[key] is None:
                    assert said == "–"
                    continue
                if check["unit"] == "m":
                    assert near(said, check[key], unit)
                elif check["unit"] == "share":
                    assert float(said.removesuffix(" %")) == pytest.approx(100 * check[key], abs=0.051)
                else:
                    assert float(said.split()[0]) == pytest.approx(check[key], rel=5e-3)
                counted += 1
    for one in records["vane"]["sets"]:
        if one["name"] == SOLVED:  # by the air flow that was solved before; what it finds at anchor steers nobody
            what = "apparent wind the vane steers in"
            limit = f"{records['vane']['must_steer_from_kn']:.3g} kn"
            assert next(rows) == (SOLVED, f"{what}, close-hauled", "5.41 kn", limit, "pass", BOX)
            assert next(rows) == (SOLVED, f"{what}, run 120", "–", limit, "unknown", BOX)
        else:
            assert next(rows) == (one["name"], "vane steers (line of sight only)", "–", "–", "unknown", BOX)
    assert next(rows, None) is None
    assert counted > 20


@pytest.mark.behaviour
def test_every_dimension_says_how_it_is_known(brief):
    _, _, document, _, _ = brief
    figures = [one for one in document.blocks if isinstance(one, Figure)]
    views = [one for one in figures if re.search(r", from (above|starboard|astern), 1:", one.drawing.title)]
    assert len(views) >= 4
    lengths = 0
    for one in views:
        for item in one.drawing.items:
            if isinstance(item, Words) and re.search(r"^(canvas|top|blade \d|sole|to blade|bulkhead)\b.*\d", item.text):
                assert MARKED.fullmatch(item.text.partition(", ")[2]), item.text
                lengths += 1
    assert lengths >= 4 * len(views) - 4
    parts = [one.caption for one in figures if "seen from outside" in one.caption]
    assert parts
    assert all(MARKED.fullmatch(caption.partition("; sizes ")[2]) for caption in parts)
    for grid in (
        *grids(document, "edge", "lies along"),
        *grids(document, "hoop", "outside diameter"),
        *grids(document, "window"),
    ):
        assert grid.heads[-1] == "known"
        assert all(MARKED.fullmatch(row[-1]) for row in grid.rows)
    (zips,) = grids(document, "zip", "mates")
    assert all(MARKED.fullmatch(row[2].partition(", ")[2]) for row in zips.rows)


@pytest.mark.behaviour
def test_every_length_is_in_the_unit_asked_for(brief):
    _, unit, document, *_ = brief
    other = {"m": r"[0-9] (ft|in)\b", "ft": r"[0-9 ](mm|cm|m)\b"}[unit]
    assert [said for said in texts_of(document) if re.search(other, said)] == []
    (heights,) = grids(document, "hoop", "1/10")
    (hoops,) = grids(document, "hoop", "outside diameter")
    assert [row[0] for row in heights.rows] == [row[0] for row in hoops.rows]
    small = {"m": "mm", "ft": "in"}[unit]
    for (_, *over), (*_, highest, _) in zip(heights.rows, hoops.rows, strict=True):
        assert max(length(f"{one} {small}") for one in over) == pytest.approx(length(highest), rel=0.02)


@pytest.mark.behaviour
def test_the_printed_text_is_complete(brief):
    _, _, document, pages, _ = brief
    printed = "".join("".join(pages).split())

    def there(text):
        return "".join(text.split()) in printed

    for block in document.blocks:
        if isinstance(block, Heading | Prose):
            assert there(block.text), block.text
        elif isinstance(block, Bullets):
            assert all(there(item) for item in block.items)
        elif isinstance(block, Figure):
            assert there(block.caption), block.caption
            for item in block.drawing.items:
                if isinstance(item, Words):
                    assert there(item.text), item.text
    for page in pages[:-1]:
        assert document.foot in page


@pytest.mark.behaviour
def test_every_cell_is_printed(brief):
    _, _, document, pages, _ = brief
    printed = set(" ".join(pages).split())
    for block in document.blocks:
        if isinstance(block, Grid):
            cells = " ".join(cell for row in (block.heads, *block.rows) for cell in row if cell != BOX)
            missing = [word for word in cells.split() if word not in printed]
            # a long word is broken where its column ends
            assert all(any(word.startswith(part) for part in printed if len(part) > 1) for word in missing), missing


@pytest.mark.behaviour
def test_each_question_of_a_maker_is_answered_on_a_page(brief):
    rigging, _, document, pages, _ = brief
    asked = next(block for block in document.blocks if isinstance(block, Bullets)).items
    assert [re.match(r"[^?]+\?", item)[0] for item in asked] == [
        "Which side is out?", "Where is forward?", "What is the finished size?",
        "Which way does a zip open, which half?", "What may vary?",
    ]  # fmt: skip

    def page_with(*said):
        return [page for page in pages if all(one in page for one in said)]

    new = [panel.name for panel in rigging.model.design.panel if not panel.existing]
    assert any("face out" in page or "either side out" in page for page in page_with("panel cloth side warp"))
    assert page_with("bow to the right")
    for name in new:
        assert page_with(name, "lies along", "finished length", "must fit", "how it is cut"), name
        assert page_with(f"{name}", "seen from outside", "sizes"), name
    assert page_with("half on the new panel", "slider parks at the")
    assert page_with("±", "final") or page_with("±", "patterned on")


@pytest.mark.analytic
def test_a_tolerance_is_two_deviations_and_the_play_and_a_mock_up_is_called_so():
    panels = [SimpleNamespace(name=name, existing=name == "hood") for name in ("roof", "side", "hood")]
    rigging = SimpleNamespace(
        measured={"roof": 1, "hood": 1}, model=SimpleNamespace(design=SimpleNamespace(panel=panels))
    )

    def edge(panel, sd=0.003, play=0.01):
        return EdgeResult(
            panel=panel,
            name="aft",
            finish="hem",
            length=1.0,
            sd=sd,
            play=play,
            fit="long",
            long_by=0.01,
            strain_max=0.0,
        )

    assert edge_known(rigging, edge("roof")).said("m") == "mocked up ± 16 mm"
    assert edge_known(rigging, edge("side")).said("m") == "measured ± 16 mm"
    assert edge_known(rigging, edge("hood")).said("m") == "measured ± 16 mm"
    assert edge_known(rigging, edge("side", sd=None)).said("m") == "assumed"
    assert edge_known(rigging, None).said("ft") == "assumed"
    parts = [edge_known(rigging, edge("side", sd=0.01)), edge_known(rigging, edge("roof"))]
    assert worst(parts).said("m") == "mocked up ± 30 mm"
    assert worst([*parts, edge_known(rigging, None)]).said("m") == "assumed"
