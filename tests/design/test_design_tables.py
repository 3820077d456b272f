"""Hold the tables of defaults, cloths, finishes and fastenings: each value has a source and stands in its range."""

import tomllib
from importlib.resources import files

import pytest

from canvas.design import tables
from canvas.design.problems import DesignError
from tests.design.design_texts import changed, example, read

FILES = ("defaults", "cloths", "finishes", "fastenings", "metals")


def entries(name):
    """Return the entries of a table as written."""
    return tomllib.loads(files(tables).joinpath(f"{name}.toml").read_text(encoding="utf-8"))


@pytest.mark.behaviour
@pytest.mark.parametrize("name", FILES)
def test_every_entry_says_its_source(name):
    for key, entry in entries(name).items():
        assert len(entry["source"]) > 8, key


@pytest.mark.behaviour
def test_a_table_without_a_source_does_not_load(monkeypatch, tmp_path):
    (tmp_path / "defaults.toml").write_text('[bare]\nvalue = 1\nrange = [0, 2]\nsource = ""\n')
    monkeypatch.setattr(tables, "files", lambda _: tmp_path)
    tables._table.cache_clear()
    try:
        with pytest.raises(ValueError, match=r"defaults\.toml: no source beside bare"):
            tables._table("defaults")
    finally:
        tables._table.cache_clear()


@pytest.mark.behaviour
@pytest.mark.parametrize("name", sorted(entries("defaults")))
def test_a_default_stands_in_the_range_in_which_it_is_believable(name):
    entry = tables.default_entry(name)
    assert entry.low <= entry.value <= entry.high
    assert entry.value == tables.default(name)


@pytest.mark.behaviour
@pytest.mark.parametrize("name", sorted(entries("cloths")))
def test_a_cloth_reads_in_si(name):
    cloth = tables.cloths()[name]
    assert 0.05 < cloth.mass < 2.0
    assert cloth.roll_widths == tuple(sorted(cloth.roll_widths))
    assert all(0.4 < width < 5 for width in cloth.roll_widths)
    assert all(0 <= share <= 1 for share in (cloth.light_through, cloth.uv_through, cloth.rain_through))
    assert 5e3 < cloth.weft_stiffness <= cloth.warp_stiffness < 1e6
    assert 0 < cloth.strain_limit <= 0.02
    assert (cloth.sight_through > 0) == (cloth.kind == "sheet")


@pytest.mark.behaviour
@pytest.mark.parametrize("name", sorted(name for name, one in tables.finishes().items() if not one.inner))
def test_a_finish_can_be_used_and_buys_what_the_tables_have(name):
    finish = tables.finishes()[name]
    for bought in (finish.tape, finish.fastening):
        assert bought is None or bought in tables.fastenings()
    text = changed('name = "foot", finish = "twist studs"', f'name = "foot", finish = "{name}"')
    if name == "batten pocket":
        text = text.replace('finish = "batten pocket" }', 'finish = "batten pocket", batten = "9 N m2" }')
    panel = read(text).design.panel_named("tent back")
    assert name in {edge.finish for edge in read(text).design.panel_named("tent side starboard").edges} | {
        edge.finish for edge in panel.edges
    }


@pytest.mark.behaviour
@pytest.mark.parametrize("name", sorted(name for name, one in tables.finishes().items() if one.inner))
def test_a_finish_inside_a_panel_is_none_of_an_edge(name):
    with pytest.raises(DesignError, match=f'finish "{name}"'):
        read(changed('name = "foot", finish = "twist studs"', f'name = "foot", finish = "{name}"'))


@pytest.mark.behaviour
@pytest.mark.parametrize("name", sorted(entries("fastenings")))
def test_a_fastening_is_sold_by_length_or_by_number_and_pieces_say_their_spacing_or_stand_alone(name):
    fastening = tables.fastenings()[name]
    assert fastening.each in ("m", "piece")
    assert 0 < fastening.mass < 0.5
    assert fastening.spacing is None or fastening.each == "piece"
    if fastening.strength_low is not None:
        assert 0 < fastening.strength_low <= fastening.strength_high


@pytest.mark.behaviour
def test_words_change_with_the_region():
    assert tables.word("spray_hood", region="international") == "spray hood"
    assert tables.word("spray_hood", region="american") == "dodger"
    assert all(set(entry) == {"international", "american"} for entry in entries("words").values())


@pytest.mark.behaviour
def test_a_cloth_of_ones_own_takes_the_rest_from_the_one_it_is_like():
    own = read(example("lantern-hill")).design.cloths()["loft acrylic 9 1/4 oz"]
    like = tables.cloths()["acrylic 300"]
    assert own.price_per_m2 == 31.0
    assert own.warp_stiffness == like.warp_stiffness
    assert "this design" in own.source
