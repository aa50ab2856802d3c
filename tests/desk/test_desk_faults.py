"""Faults of `check` stand beside their fields, in the same words."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from desk_asker import PORCH, Asker

from fabplan.desk.faults import placed
from fabplan.errors import JobError, JobErrors
from fabplan.job.load import load_job_text
from fabplan.job.merge import ARRAYS, TABLES

sys.path.append(str(Path(__file__).parents[1] / "job"))
from bad_jobs import BAD_JOBS, BadJob


@pytest.mark.parametrize("case", BAD_JOBS, ids=lambda case: case.id)
def test_every_fault_of_check_is_said_and_placed(case: BadJob, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(JobError) as caught:
        load_job_text(case.text, "job.toml")
    each = caught.value.errors if isinstance(caught.value, JobErrors) else (caught.value,)
    found = placed(each, case.text, "job.toml")
    assert [f.whole for f in found] == [said.replace("{file}", "job.toml") for said in case.says]
    for fault, f in zip(each, found, strict=True):
        assert f.whole.endswith(f.says)
        table = re.match(r"\w*", fault.key)
        if table and table[0] in (*TABLES, *ARRAYS) and fault.file in ("", "job.toml"):
            assert f.path[:1] == (table[0],), f.whole
            keys = [k for k in fault.key.split(" > ")[1:] if not k.isdigit()]
            assert [k for k in f.path[2 if table[0] in ARRAYS else 1 :] if isinstance(k, str)][: len(keys)] == keys


def test_a_fault_stands_beside_its_field_while_it_is_typed(porch: Asker) -> None:
    answer = porch.set("piece.0", "hem", "6 in", what="try")
    assert answer["faults"] == {
        "piece.0.hem": [
            'a hem must be narrower than half the side, 10 in (found "6 in"). Write a narrower hem or a longer side.'
        ]
    }
    assert not answer["sound"] and answer["sections"] == {"piece": 1}
    answer = porch.set("piece.0", "hem", "3/4 inn", what="try")
    assert "piece.0.hem" in answer["faults"]
    answer = porch.set("piece.1", "legs", "3/4 in, x, 3 in", what="try")
    assert list(answer["faults"]) == ["piece.1.legs"]
    answer = porch.set("piece.1", "length", "", what="try")
    assert answer["faults"]["piece.1.length"][0].startswith('"length" is missing')


def test_faults_elsewhere_are_told_with_their_place(tmp_path: Path) -> None:
    asker = Asker(tmp_path / "job.toml", PORCH.replace('width = "24 in"', 'width = "wide"')).enter()
    page = asker.get("/?at=piece.0").text
    assert "To mend elsewhere" in page and 'href="/?at=stock.0"' in page
    assert "must be a length" in page or "length" in page
    assert "<svg" in page  # the piece is drawn all the same
    assert "1 to mend" in page
    assert 'id="fault-stock.0.width"' in asker.get("/?at=stock.0").text


def test_a_fault_found_by_the_development_is_placed_too(porch: Asker) -> None:
    answer = porch.set("piece.1", "legs", "0.05 in, 2-1/2 in, 3 in", what="try")
    assert answer["faults"] or answer["sound"]
    wide = porch.set("piece.0", "lower_hem", "4-7/8 in", what="try")
    assert not wide["faults"] or all(name.startswith("piece.0") for name in wide["faults"])


def test_two_of_one_mark_are_told_apart_by_their_lines(tmp_path: Path) -> None:
    text = PORCH.replace('mark = "D"', 'mark = "A"').replace('length = "48 in"', 'length = "x"')
    asker = Asker(tmp_path / "job.toml", text).enter()
    assert "piece.1.length" in asker.set("piece.1", "count", "5", what="try")["faults"]
