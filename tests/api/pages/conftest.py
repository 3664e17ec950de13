"""A shop whose desk answers on paper, and a person in its browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from api.pages import sheet
from tests.api.pages.bay import Bay
from tests.api.pages.paper import paper_account, paper_answer
from tests.api.web.shop import open_shop


@pytest.fixture
def bay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bay]:
    """Return a technician's browser in a shop with a short list on paper.

    A page waits for its list as long as it takes: what opens a gate is still worked out by the
    engine, which is slow on a busy machine.
    """
    monkeypatch.setattr(sheet, "PATIENCE", 60.0)
    with open_shop(tmp_path, compute=paper_answer, explains=paper_account) as shop:
        yield Bay(shop, shop.as_role("technician"))
