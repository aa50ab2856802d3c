"""The rack as typed: what is taken, and how what cannot be taken is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.errors import JobError
from fabplan.shop.counter import add_piece, rack_data, rack_rows, typed_length
from fabplan.shop.rack import pieces
from fabplan.units import NM_PER_INCH


def test_what_is_typed_is_what_the_rack_holds(tmp_path: Path) -> None:
    rack = tmp_path / "rack.db"
    ids = add_piece(rack, metal="copper-16oz", size="8 x 30-1/2 in", count=2, grain="across", note="from the porch")
    there = pieces(rack)
    assert [p.id for p in there] == list(ids)
    assert {(p.width, p.length, p.grain) for p in there} == {(8 * NM_PER_INCH, 61 * NM_PER_INCH // 2, "across")}
    assert rack_data(there)["offcuts"][1] | {"added": ""} == {
        "id": ids[1],
        "piece": there[1].piece,
        "metal": "copper-16oz",
        "width": 8,
        "length": 30.5,
        "grain": "across",
        "note": "from the porch",
        "added": "",
    }
    assert rack_rows(there)[0][:6] == (str(ids[0]), there[0].piece, "copper-16oz", "8 in", "30-1/2 in", "across")
    assert rack_rows(there)[0][6] == "from the porch"


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ({"grain": "diagonal"}, "--grain"),
        ({"size": "8 by a foot or so"}, "SIZE"),
        ({"size": "8 in"}, "SIZE"),
        ({"metal": "unobtainium"}, ""),
    ],
)
def test_what_cannot_be_taken_is_refused_and_nothing_kept(tmp_path: Path, typed: dict[str, str], key: str) -> None:
    rack = tmp_path / "rack.db"
    wanted = {"metal": "copper-16oz", "size": "8 x 30 in", "grain": "along", "note": "", **typed}
    with pytest.raises(JobError) as caught:
        add_piece(rack, count=1, **wanted)
    assert caught.value.exit_code == 2
    assert key in str(caught.value)
    assert not rack.exists()


@pytest.mark.parametrize(
    ("text", "units", "length"),
    [
        (None, "in", None),
        ("9-1/2", "in", 19 * NM_PER_INCH // 2),
        ("240", "mm", 240_000_000),
        ("1 ft", "mm", 304_800_000),
    ],
)
def test_a_bare_length_takes_the_jobs_units(text: str | None, units: str, length: int | None) -> None:
    assert typed_length(text, units, "--from") == length


@pytest.mark.parametrize(
    ("text", "says"), [("wide", "this is not a length"), ("0", "must be above 0"), ("-2 in", "must be above 0")]
)
def test_a_length_that_is_none_names_the_option(text: str, says: str) -> None:
    with pytest.raises(JobError, match=says) as caught:
        typed_length(text, "in", "--from")
    assert "--from" in str(caught.value)
