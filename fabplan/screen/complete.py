"""What the shell offers while a command is typed: job files, racks, metals, marks of the job. Loads nothing heavy."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import typer

_MOST = 200
_LARGEST = 1_000_000


def job_files(incomplete: str) -> list[str]:
    """Folders, and files ending in .toml, that go on as typed."""
    return list(_files(incomplete, ".toml"))


def plan_files(incomplete: str) -> list[str]:
    """Folders, and files ending in .json."""
    return list(_files(incomplete, ".json"))


def rack_files(incomplete: str) -> list[str]:
    """Folders, and files ending in .db."""
    return list(_files(incomplete, ".db"))


def metals(incomplete: str) -> list[str]:
    """Metal profiles."""
    from fabplan.job.metals import metal_names

    return _starting(metal_names(), incomplete)


def marks(ctx: typer.Context, incomplete: str) -> list[str]:
    """Marks of the pieces in the job file named before; those of diamonds alone for `best-size`."""
    job = ctx.params.get("job")
    if job is None:
        return []
    try:
        path = Path(str(job))
        if path.stat().st_size > _LARGEST:
            return []
        pieces = tomllib.loads(path.read_text(encoding="utf-8-sig")).get("piece", [])
        only = ctx.command.name == "best-size"
        found = [str(p["mark"]) for p in pieces if "mark" in p and (not only or p.get("kind") == "diamond")]
    except (OSError, ValueError, AttributeError, TypeError):
        return []
    return _starting(found, incomplete)


def _starting(names: Iterable[str], incomplete: str) -> list[str]:
    return [name for name in names if name.lower().startswith(incomplete.lower())][:_MOST]


def _files(incomplete: str, suffix: str) -> Iterator[str]:
    head, _, start = incomplete.rpartition("/")
    folder = Path(f"{head}/") if "/" in incomplete else Path()
    try:
        there = sorted(folder.iterdir())[:10_000]
    except OSError:
        return
    lead = f"{head}/" if "/" in incomplete else ""
    for path in there:
        if not path.name.startswith(start) or (path.name.startswith(".") and not start):
            continue
        if path.is_dir():
            yield f"{lead}{path.name}/"
        elif path.suffix == suffix:
            yield f"{lead}{path.name}"
