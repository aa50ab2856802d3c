"""Desks to test, and one browser for all of them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_asker import PORCH, Asker, Idle, Served
from desk_browser import BROWSER, Chromium, Page


@pytest.fixture
def porch(tmp_path: Path) -> Asker:
    """The porch's desk, entered."""
    return Asker(tmp_path / "porch.toml", PORCH).enter()


# In a real browser ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chromium]:
    if BROWSER is None:
        pytest.skip("no Chromium here")
    browser = Chromium(tmp_path_factory.mktemp("profile"))
    yield browser
    browser.end()


@pytest.fixture(scope="session")
def tab(chromium: Chromium) -> Page:
    return chromium.page()


@pytest.fixture(scope="session")
def served_porch(tab: Page, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One server and one browser for all quick tests; each begins from the porch's file."""
    path = tmp_path_factory.mktemp("desk") / "porch.toml"
    path.write_text(PORCH, encoding="utf-8")
    served = Served(path, tab, Idle)
    yield served
    served.end()
