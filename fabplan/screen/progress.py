"""Progress of the cut plan: cost, proven least and gap, on standard error."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction

from rich.console import Console
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

Report = Callable[[Fraction | None, Fraction, float | None], None]


@contextmanager
def nest_progress(*, quiet: bool) -> Iterator[Report | None]:
    """A callback ``(cost, bound, gap)`` that keeps one line up to date; None when nobody watches."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield None
        return
    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("Pieces and counts ...")  # until the search first tells of itself

        def report(cost: Fraction | None, bound: Fraction, gap: float | None) -> None:
            if cost is None or gap is None:
                words = "no plan yet"
            else:
                words = f"best {float(cost):,.2f}, proven least {float(bound):,.2f}, {gap:.2%} above"
            bar.update(task, description=f"Cut plan: {words}")

        yield report


@contextmanager
def stage_progress(what: str, *, quiet: bool) -> Iterator[None]:
    """One line that says what is being done; nothing when nobody watches."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield
        return
    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        bar.add_task(f"{what} ...")
        yield


@contextmanager
def count_progress(what: str, *, quiet: bool) -> Iterator[Callable[[int, int, str], None] | None]:
    """A callback ``(done, all, name)`` that keeps one line up to date; None when nobody watches."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield None
        return
    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(f"{what} ...")

        def report(done: int, total: int, name: str) -> None:
            bar.update(task, description=f"{what}: {done} of {total} {name}".rstrip())

        yield report
