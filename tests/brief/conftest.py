"""One example boat, built once."""

from __future__ import annotations

from pathlib import Path

import pytest

from canvas.cloth.rigging import Rigging
from canvas.design.reading import read_design
from canvas.geometry.model import build_model
from tests.viewer.conftest import browser

__all__ = ["EXAMPLES", "browser"]

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="session")
def sloop() -> Rigging:
    """Return the sloop among the examples."""
    return Rigging(build_model(read_design(EXAMPLES / "marrowgrass.toml")))
