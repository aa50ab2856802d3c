"""Rules of the job part by part: what pieces share, outlines, sections, stock and tools, tables against each other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from bad_jobs import GOOD
from pydantic import TypeAdapter, ValidationError

from fabplan.errors import JobErrors
from fabplan.job import consistency, stock_rules
from fabplan.job.files import read_source
from fabplan.job.kinds import base, outline, section
from fabplan.job.load import load_job
from fabplan.job.merge import TableEntry, merge
from fabplan.job.model import Shear, Stock
from fabplan.units import NM_PER_INCH, Nm, Show

SHOW = Show("in", Nm(NM_PER_INCH // 32))
INCH = Nm(NM_PER_INCH)


def read(model: Any, **keys: Any) -> Any:
    return TypeAdapter(model).validate_python(keys, context={"units": "in"})


def entry(tmp_path: Path, table: str) -> TableEntry:
    """The first entry of a table of the good job, where its lines are known."""
    path = tmp_path / "job.toml"
    path.write_text(GOOD, encoding="utf-8")
    return merge(read_source(path, "job.toml", "job file"), None).arrays[table][0]


def test_sizes_go_up_to_the_graduation_and_folds_are_said_as_typed() -> None:
    assert base.round_up(Nm(33), 10) == 40 and base.round_up(Nm(40), 10) == 40
    hem = read(base.HemSpec, width="3/4 in", toward="back", gap="0 in")
    assert "3/4 in" in hem.said(SHOW) and "back" in hem.said(SHOW)
    assert base.gap_said(Nm(0), SHOW) != base.gap_said(None, SHOW)
    assert base.size_said(SHOW, INCH, Nm(2 * INCH)).index("1") < base.size_said(SHOW, INCH, Nm(2 * INCH)).index("2")
    with pytest.raises(ValidationError, match="Extra inputs"):
        read(base.HemSpec, width="3/4 in", toward="back", colour="red")


def test_an_outline_counts_its_corners_and_folds() -> None:
    piece = read(
        outline.OutlinePiece,
        kind="outline",
        mark="O",
        points=[["0 in", "0 in"], ["6 in", "0 in"], ["6 in", "4 in"]],
        folds=[{"edge": 1, "width": "1/2 in", "toward": "face"}],
    )
    assert piece.sizes_said(SHOW) == ["3 corners", "1 folds"]


def test_a_section_says_its_legs_and_where_its_hems_are() -> None:
    piece = read(
        section.SectionPiece,
        kind="section",
        mark="D",
        length="48 in",
        legs=["3 in", "2 in"],
        bends=[90],
        end_hem={"width": "1/2 in", "toward": "back", "double": True},
    )
    said = " ".join(piece.sizes_said(SHOW))
    assert "3 in" in said and "2 in" in said and "48 in" in said
    assert piece.end_hem.double and "1/2 in" in piece.end_hem.said(SHOW)


def test_rules_of_stock_and_shear_name_their_key(tmp_path: Path) -> None:
    at = entry(tmp_path, "stock")
    coil = read(Stock, name="coil 24", form="coil", width="24 in")
    assert list(stock_rules.stock_faults(at, coil, SHOW)) == []
    trimmed = read(Stock, name="coil 24", form="coil", width="24 in", trim_each_edge="12 in")
    (fault,) = stock_rules.stock_faults(at, trimmed, SHOW)
    assert "trim_each_edge" in str(fault)
    job = load_job(tmp_path / "job.toml")
    assert list(stock_rules.shear_faults(at, job.shear, SHOW)) == []
    deep = job.shear.model_copy(update={"least_held": Nm(200 * INCH)})
    assert isinstance(deep, Shear) and list(stock_rules.shear_faults(at, deep, SHOW))
    assert all(list(stock_rules.tool_faults(at, tool, SHOW)) == [] for tool in job.hem_tools)


def test_tables_are_checked_against_each_other(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(GOOD.replace('for = "A"', 'for = "Z"').replace('hooks = "D"', 'hooks = "Y"'), encoding="utf-8")
    with pytest.raises(JobErrors) as caught:
        load_job(path)
    told = str(caught.value)
    assert '"Z"' in told and '"Y"' in told  # both at once
    assert consistency.LEAST_GRID < consistency.LARGEST_GRID
