"""A shop for each test, as in the tests of the web."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.api.web.shop import Shop, open_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """Return a shop with a quick desk."""
    with open_shop(tmp_path) as opened:
        yield opened
