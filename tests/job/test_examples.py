"""The example jobs load, and say back what their files say."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.job.said import said_rows

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*/job.toml")), ids=lambda path: path.parent.name)
def test_loads_without_assuming(path: Path) -> None:
    job = load_job(path)
    assert job.pieces
    assert all(piece.count or job.slopes for piece in job.pieces)
    assert said_rows(job)


def test_lakeside_pavilion() -> None:
    job = load_job(EXAMPLES / "lakeside-pavilion" / "job.toml")
    kinds = {piece.kind for piece in job.pieces}
    assert {"diamond", "starter", "rake-left", "rake-right", "ridge-half", "section"} <= kinds
    sections = [piece for piece in job.pieces if piece.kind == "section"]
    assert {piece.length for piece in sections} == {48 * 25_400_000}
    assert {(line.form, line.width // 25_400_000) for line in job.stock} == {("coil", 24), ("coil", 20), ("sheet", 36)}
    assert all(line.price for line in job.stock)


def test_boathouse_is_metric() -> None:
    job = load_job(EXAMPLES / "boathouse-zinc" / "job.toml")
    said = dict(reversed(said_rows(job)))
    assert job.info.units == "mm"
    assert said["piece P"] == "24: flat-seam, 450 mm x 600 mm finished, hems 18 mm, gap 1.5 mm"
    assert said["metal"].endswith("0.7 mm thick, 5.04 kg per m²")
