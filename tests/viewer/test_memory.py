"""Hold server and page to their size under dragging: the short form of the benchmark in tests/benchmarks/viewer."""

from __future__ import annotations

import pytest

from tests.benchmarks.viewer.memory import grown


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.browser
def test_dragging_on_grows_neither_server_nor_page(tmp_path):
    before, after = grown(tmp_path, warm=45, seconds=60, edits=False, port="8465")
    assert after.server < 1.1 * before.server
    assert after.heap < 1.1 * before.heap
