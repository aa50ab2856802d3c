"""Somebody with a tape and no job file: from nothing to the packet, for a cupola and for a dormer."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_asker import Served
from desk_browser import BROWSER, Page

from fabplan.job.load import load_job
from fabplan.plan.file import read_plan, saved
from fabplan.plan.prove import prove_file

pytestmark = [pytest.mark.skipif(BROWSER is None, reason="no Chromium here"), pytest.mark.slow]


@pytest.fixture
def fresh(tab: Page, tmp_path: Path) -> Iterator[Served]:
    """A job file that is not there yet, opened."""
    served = Served(tmp_path / "new.toml", tab)
    yield served
    served.end()


def add(served: Served, table: str, name: str, what: str = "") -> None:
    """A new entry of a table, by its list."""
    served.open(table)
    served.tab.run(f"document.getElementById('new-name').value = '{name}'")
    if what:
        served.tab.run(f"document.getElementById('new-what').value = '{what}'")
    served.click("add")


def fill(served: Served, at: str, **values: str) -> None:
    for key, value in values.items():
        served.fill(f"{at}.{key.replace('__', '.')}", value)
        served.tab.until("document.body.dataset.writing === '0'")


def plan(served: Served) -> None:
    tab = served.tab
    served.open("plan")
    assert tab.run("document.getElementById('told').textContent.trim()") == ""
    tab.run("document.getElementById('begin').click()")
    tab.until("document.querySelector('#run dt')", 60)
    assert "Stage" in tab.run("document.getElementById('run').textContent")
    tab.until("document.body.dataset.run === 'done' && document.querySelector('.answer')", 280)


def pages(served: Served) -> None:
    """Every station's pages in the same window, and the shear's to print."""
    tab = served.tab
    links = tab.run("[...document.querySelectorAll('#run .by a')].map(a => a.href)")
    assert links[-1].endswith("/shear.pdf")
    for link in links[:-1]:
        tab.go(link)
        assert tab.run("document.querySelectorAll('section.page h2').length") >= 2, link
        assert tab.run("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
    assert tab.run("fetch('/shear.pdf').then(r => r.text()).then(t => t.slice(0, 5))") == "%PDF-"
    assert tab.faults == []
    own = served.serving.address
    assert [url for url in tab.asked if not url.startswith(own)] == []


def proved(served: Served, number: str) -> None:
    """The packet beside the file is that of the file, and proves."""
    data = served.path.parent / f"{number}-packet" / "plan.json"
    assert data.is_file()
    assert prove_file(data, load_job(served.path)).ok


def test_a_cupola(fresh: Served) -> None:
    tab = fresh.tab
    assert 'name = "New"' in fresh.text
    fill(fresh, "job", name="Cupola on the barn", number="C-1")
    assert "the job has no pieces" in tab.run("document.getElementById('told').textContent")
    add(fresh, "piece", "A", "diamond")
    fill(fresh, "piece.0", side="8 in", hem="3/4 in")
    tab.until("document.querySelectorAll('#board svg').length === 2")
    add(fresh, "slope", "cupola", "regular-spire")
    fill(fresh, "slope.0", piece="A", sides="6", side="24 in", height="40 in")
    tab.until("document.querySelectorAll('#whole-pictures svg').length > 0", 120)
    assert "with its courses" in tab.run("document.getElementById('whole-pictures').textContent")
    add(fresh, "stock", "coil 24", "coil")
    fill(fresh, "stock.0", width="24 in", price="9.40 per lb")
    tab.until("document.querySelectorAll('#board svg').length === 1")
    fresh.open("nest")
    fill(fresh, "nest", search_effort="0.02")
    tab.until("document.body.dataset.whole === 'done'", 120)
    whole = tab.run("document.getElementById('whole').textContent")
    assert "pieces" in whole and "hours" in whole and "Pieces by slope" in whole
    plan(fresh)
    assert "Roof" in tab.run("document.querySelector('#run .by').textContent")
    pages(fresh)
    proved(fresh, "C-1")
    fresh.open("stock.0")  # the layouts of the plan, to scale
    assert tab.run("document.querySelectorAll('#board svg').length") > 1


def test_a_dormer(fresh: Served) -> None:
    """By counts: diamonds, starters, rake halves, a drip edge; then a count is changed, and told against the plan."""
    tab = fresh.tab
    fill(fresh, "job", name="Dormer", number="D-2", spare="5 %")
    add(fresh, "piece", "B", "diamond")
    fill(fresh, "piece.0", count="40", side="8 in", hem="3/4 in")
    for at, mark, kind, count in ((1, "BS", "starter", "6"), (2, "BL", "rake-left", "5"), (3, "BR", "rake-right", "5")):
        add(fresh, "piece", mark, kind)
        fill(fresh, f"piece.{at}", **{"for": "B"}, count=count)
        tab.until("document.querySelectorAll('#board svg').length === 2")
    add(fresh, "piece", "D", "section")
    fill(fresh, "piece.4", count="4", length="48 in", legs="3/4 in, 2-1/2 in, 3 in", bends="90, -45",
         end_hem__width="1/2 in", end_hem__toward="back")  # fmt: skip
    tab.until("document.querySelectorAll('#board svg').length === 2")
    fresh.open("piece.1")
    fill(fresh, "piece.1", hooks="D")
    add(fresh, "stock", "sheet", "sheet")
    fill(fresh, "stock.0", width="36 in", length="96 in", on_hand="20")
    fresh.open("nest")
    fill(fresh, "nest", search_effort="0.02")
    plan(fresh)
    pages(fresh)
    proved(fresh, "D-2")
    fresh.open("piece.0")
    fill(fresh, "piece.0", count="60")
    plan(fresh)
    said = tab.run("document.getElementById('run').textContent")
    assert "Against the last plan" in said and "B 63, was 42 (+21)" in said
    data = fresh.path.parent / "D-2-packet" / "plan.json"
    assert {p.mark: p.count for p in saved(read_plan(data)).blanks}["B"] == 63


def test_stop_keeps_the_best_plan(fresh: Served) -> None:
    tab = fresh.tab
    pieces = "".join(
        f'[[piece]]\nmark = "P{n}"\nkind = "rectangle"\ncount = {17 + n}\n'
        f'width = "{5 + n}-3/8 in"\nlength = "{11 + n} in"\n'
        for n in range(9)
    )
    text = fresh.text + pieces + '[[stock]]\nname = "s"\nform = "sheet"\nwidth = "36 in"\nlength = "96 in"\n'
    text += "[nest]\nsearch_effort = 60\n"
    tab.go(f"{fresh.serving.address}?at=text")
    tab.run(f"document.getElementById('file-text').value = {text!r}")
    fresh.click("text")
    fresh.open("plan")
    tab.run("document.getElementById('begin').click()")
    tab.until("/Cut plan/.test(document.getElementById('run').textContent)", 200)
    tab.run("document.getElementById('stop').click()")
    tab.until("document.body.dataset.run === 'done' && document.querySelector('.answer')", 200)
    assert (fresh.path.parent / "1-packet" / "packet.pdf").is_file()
    said = tab.run("document.getElementById('run').textContent")
    assert "Buy" in said and "Stopped early" in said
