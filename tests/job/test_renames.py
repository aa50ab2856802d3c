"""Old keys are read for one version, told with their place and their new name, and mean what they meant."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from real_runs import run

from fabplan.job.load import load_job
from fabplan.speech.renamed import renamed_words

OLD = """[job]
name = "Porch"
number = "7"
shop = "x"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "rectangle"
count = 1
width = "4 in"
length = "5 in"
[[stock]]
name = "coil"
form = "coil"
width = "20 in"
[shear]
pattern = "stacked-strips"
coil_cut_off = "Mark"
[nest]
effort = 0.5
seed = 3
margin = "1 %"
""".replace('shop = "x"\n', "")


@pytest.fixture
def old(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text(OLD, encoding="utf-8")
    return tmp_path / "job.toml"


def test_old_names_mean_what_they_meant(old: Path) -> None:
    job = load_job(old)
    assert (job.nest.search_effort, job.nest.try_again, job.nest.good_enough) == (0.5, 3, Fraction(1, 100))
    assert (job.shear.cutting, job.shear.coil_cut_off) == ("stacked-strips", "scribed")


def test_each_is_told_with_its_line_and_new_name(old: Path) -> None:
    told = {(r.line, r.key, r.write) for r in load_job(old).renamed}
    assert told == {
        (17, "pattern", "cutting"),
        (18, "coil_cut_off", 'coil_cut_off = "scribed"'),
        (20, "effort", "search_effort"),
        (21, "seed", "try_again"),
        (22, "margin", "good_enough"),
    }


def test_new_names_are_not_told(old: Path) -> None:
    new = OLD.replace("pattern", "cutting").replace('"Mark"', '"scribed"').replace("effort", "search_effort")
    old.write_text(new.replace("seed", "try_again").replace("margin", "good_enough"), encoding="utf-8")
    assert renamed_words(load_job(old)) == []


def test_an_old_name_in_the_shop_file_too(old: Path) -> None:
    (old.parent / "shop.toml").write_text('[shear]\ncoil_cut_off = "mark"\n', encoding="utf-8")
    old.write_text('shop = "shop.toml"\n' + OLD.replace('coil_cut_off = "Mark"\n', ""), encoding="utf-8")
    job = load_job(old)
    assert job.shear.coil_cut_off == "scribed"
    assert [r.line for r in job.renamed if r.file.endswith("shop.toml")] == [2]


def test_the_terminal_warns_and_goes_on(old: Path) -> None:
    done = run("check", "job.toml", cwd=old.parent)
    assert done.returncode == 0
    assert "nest > effort is an old name" in done.stderr
    assert "Write search_effort." in done.stderr
