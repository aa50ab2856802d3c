"""The line of progress: kept up to date for somebody who watches a terminal, and for nobody else."""

from __future__ import annotations

import io
from fractions import Fraction

import pytest
from rich.console import Console

from fabplan.screen import progress


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> io.StringIO:
    """Standard error as a terminal 200 wide; what is written to it."""
    out = io.StringIO()
    monkeypatch.setattr(
        progress, "Console", lambda **_: Console(file=out, force_terminal=True, width=200, legacy_windows=False)
    )
    return out


def test_the_nest_tells_cost_least_and_gap(screen: io.StringIO) -> None:
    with progress.nest_progress(quiet=False) as report:
        assert report is not None
        report(None, Fraction(100), None)
    assert "no plan yet" in screen.getvalue()
    with progress.nest_progress(quiet=False) as report:
        assert report is not None
        report(Fraction(12345, 10), Fraction(1200), 0.02875)
    assert "best 1,234.50, proven least 1,200.00, 2.88% above" in screen.getvalue()


def test_a_count_tells_what_is_done_without_reading_names_as_markup(screen: io.StringIO) -> None:
    with progress.count_progress("Sizes", quiet=False) as report:
        assert report is not None
        report(3, 65, "[red]coil 24[/red]")
    assert "Sizes: 3 of 65 [red]coil 24[/red]" in screen.getvalue()


@pytest.mark.parametrize("watch", [progress.nest_progress, lambda quiet: progress.count_progress("x", quiet=quiet)])
def test_nobody_watching_gets_nothing(watch: object, screen: io.StringIO, capsys: pytest.CaptureFixture[str]) -> None:
    with watch(quiet=True) as report:  # type: ignore[operator]
        assert report is None
    assert screen.getvalue() == ""


def test_a_file_is_no_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    with progress.nest_progress(quiet=False) as one, progress.count_progress("x", quiet=False) as other:
        assert (one, other) == (None, None)
    assert capsys.readouterr().err == ""
