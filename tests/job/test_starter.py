"""The starter job: short, loads as it is, and its commented lines are the defaults they say."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.job.starter import starter_text, write_starter
from fabplan.job.summary import said_rows


def live(text: str) -> list[str]:
    return [row for row in text.split("\n") if row and not row.startswith("#")]


def test_about_a_dozen_live_lines() -> None:
    values = [row for row in live(starter_text()) if "=" in row]
    assert 8 <= len(values) <= 14
    assert "kerf" not in starter_text()


def test_loads_without_a_shop_file(tmp_path: Path) -> None:
    write_starter(tmp_path / "job.toml")
    job = load_job(tmp_path / "job.toml")
    assert [piece.mark for piece in job.pieces] == ["A"]
    assert job.stock[0].width == 24 * 25_400_000


def test_commented_defaults_are_the_defaults(tmp_path: Path) -> None:
    """With every ``# key = default`` line switched on, the job is the same job."""
    write_starter(tmp_path / "job.toml")
    full = re.sub(r"^# (?=[a-z_]+ = |\[)", "", starter_text(), flags=re.M)
    assert len(live(full)) > 60
    (tmp_path / "full.toml").write_text(full, encoding="utf-8")
    short, long = load_job(tmp_path / "job.toml"), load_job(tmp_path / "full.toml")
    assert long.assumed == ()
    assert long.brake.assumed == ()
    assert long.labour == replace(short.labour, assumed=("rate",))
    diamond = long.pieces[0].model_copy(update={"hem_gap": None})
    assert (short.info, short.shear, short.nest, short.hem_tools) == (long.info, long.shear, long.nest, long.hem_tools)
    assert short.pieces == (diamond,)
    assert short.stock[0] == long.stock[0].model_copy(update={"longest_cut_off": None})
    assert short.brake == long.brake.model_copy(update={"assumed": short.brake.assumed})


def test_examples_load_too(tmp_path: Path) -> None:
    text = re.sub(r"^##? (?=[a-z_]+ = |\[)", "", starter_text(), flags=re.M).replace('shop = "shop.toml"', "")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert [piece.mark for piece in load_job(tmp_path / "job.toml").pieces] == ["A", "S", "D"]


def test_never_overwrites(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("job.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(JobError) as caught:
        write_starter("job.toml")
    assert str(caught.value) == "job.toml: is there already and is left as it is. Write another file name."
    assert Path("job.toml").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", ["no/such/folder/job.toml", "x" * 5000, "a\0b"])
def test_where_nothing_can_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(JobError, match="cannot be written"):
        write_starter(name)


def test_said_back(tmp_path: Path) -> None:
    write_starter(tmp_path / "job.toml")
    rows = said_rows(load_job(tmp_path / "job.toml"))
    said = dict(reversed(rows))
    assert said["job"] == "First job, number 1"
    assert said["metal"] == "copper-16oz: Copper, 16 oz, cold-rolled; 0.0216 in thick, 1 lb per sq ft"
    assert said["piece A"] == "40: diamond, side 10 in finished, top angle 90°, hems 3/4 in, gap 1/16 in (default)"
    assert said["stock coil 24"] == "coil, 24 in wide, cut off to 120 in at most (default), as much as needed"
    assumed = [value for what, value in rows if what == "assumed"]
    assert "job > round_to: 1/32 in" in assumed
    assert any(value.startswith("brake (common practice, no source): longest_bend 120 in") for value in assumed)
