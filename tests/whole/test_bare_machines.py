"""Run the program where no home and no program folder can be written."""

import os
import subprocess
import sys

import pytest

from tests.whole.boats import ROOT, small_text

# As on a machine where neither the program's folder nor a home can be written: numba finds no place for machine code.
CHILD = """
import numba.core.caching as caching

class Nowhere:
    @classmethod
    def from_function(cls, function, file):
        return None

caching.CacheImpl._locator_classes = [Nowhere]
try:
    import numba
    numba.njit(cache=True)(lambda x: x)
except RuntimeError as error:
    assert "no locator" in str(error), error
else:
    raise SystemExit("the test no longer takes numba's folders away")

from typer.testing import CliRunner
from canvas.cli import app
for words in (["cut", "skua.toml", "-o", "out", "--plots", "plots"], ["vane", "skua.toml", "--method", "wake"]):
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
"""


@pytest.mark.behaviour
def test_no_folder_for_machine_code_and_no_home_only_cost_time(tmp_path):
    (tmp_path / "skua.toml").write_text(small_text(), encoding="utf-8")
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("XDG_", "NUMBA_", "MPL"))}
    done = subprocess.run(
        [sys.executable, "-c", CHILD], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={**kept, "HOME": "/proc/nobody", "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    assert list((tmp_path / "out").glob("*.dxf"))
    assert list((tmp_path / "plots").iterdir())


@pytest.mark.behaviour
def test_a_design_in_a_folder_that_cannot_be_written_is_read(tmp_path):
    from typer.testing import CliRunner

    from canvas.cli import app

    design = tmp_path / "read only" / "skua.toml"
    design.parent.mkdir()
    design.write_text(small_text(), encoding="utf-8")
    design.chmod(0o444)
    design.parent.chmod(0o555)
    before = sorted(os.listdir(design.parent))
    done = CliRunner().invoke(app, ["survey", str(design), "--json"])
    design.parent.chmod(0o755)
    assert done.exit_code == 0, done.output
    assert sorted(os.listdir(design.parent)) == before
