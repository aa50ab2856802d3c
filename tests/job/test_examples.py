"""The example jobs load, and say back what their files say."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.job.summary import said_rows
from fabplan.units import parse_length

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


def in_millimetres(text: str) -> str:
    """The same file with every inch length written in millimetres, exactly."""

    def one(match: re.Match[str]) -> str:
        return f'"{Decimal(parse_length(match[1])) / 1_000_000} mm"'

    text = re.sub(r'"([^"\n]* in)"(?=[,\]}\n])', lambda m: m[0] if " x " in m[1] else one(m), text)
    return text.replace('"6 x 12 in"', '"152.4 x 304.8 mm"')


def test_a_job_in_millimetres_is_the_same_job(tmp_path: Path) -> None:
    """Inch job and millimetre job with the same graduation: every length equal to the nanometre."""
    folder = EXAMPLES / "lakeside-pavilion"
    for name in ("job.toml", "shop.toml"):
        text = in_millimetres((folder / name).read_text(encoding="utf-8"))
        text = text.replace("[job]\n", '[job]\nunits = "mm"\n', 1) if name == "job.toml" else text
        (tmp_path / name).write_text(text, encoding="utf-8")
    inch, metric = load_job(folder / "job.toml"), load_job(tmp_path / "job.toml")
    assert metric.info.units == "mm"
    assert metric.info.round_to == inch.info.round_to
    for field in ("metal", "pieces", "stock", "shear", "nest", "brake", "hem_tools", "spread", "handling"):
        assert getattr(metric, field) == getattr(inch, field), field
