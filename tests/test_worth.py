"""Hold the page on what each answer is worth to the tables, and every table to a test that reads it."""

import pytest

from tests.conftest import PUBLISHED
from tests.worth import PAGE, page, readers

TABLES = sorted(path.relative_to(PUBLISHED).with_suffix("").as_posix() for path in PUBLISHED.rglob("*.toml"))


@pytest.mark.behaviour
def test_the_page_says_what_the_tables_say():
    assert PAGE.read_text(encoding="utf-8") == page(), "run python -m tests.worth"


@pytest.mark.behaviour
@pytest.mark.parametrize("name", TABLES)
def test_every_table_is_read_by_a_test(name):
    assert readers(name)
