"""A dormer with a valley, a ridge and two eaves: the lengths are chosen for the roof, none by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.plan.make import make_nest, make_pieces

DORMER = (Path(__file__).parent / "dormer.toml").read_text(encoding="utf-8")
LEAST = DORMER.replace("[roof]", "[labour]\nrate = 0\n\n[roof]")


@pytest.mark.slow
def test_it_takes_no_more_than_with_lengths_a_person_chose(tmp_path: Path) -> None:
    """Ten sheets: what the same job takes with the lengths of valley, ridge and drip edge chosen by hand."""
    path = tmp_path / "dormer.toml"
    path.write_text(LEAST, encoding="utf-8")
    pieces = make_pieces(load_job(path))
    made = make_nest(pieces.job, pieces, seconds=None)
    assert made is not None and not made.short
    assert made.total <= 2820


def test_where_work_costs_nothing_the_metal_says_where_pieces_are_cut(tmp_path: Path) -> None:
    """A word under [roof], or an hour that is worth something, goes before it."""
    path = tmp_path / "dormer.toml"
    asked = {
        LEAST: "cheaper",
        LEAST.replace("[roof]", '[roof]\ncut_pieces = "on the roof"'): "on the roof",
        LEAST.replace("[roof]", "[roof]\nuse_off_falls = true"): "on the roof",
        DORMER: "on the roof",
    }
    for text, how in asked.items():
        path.write_text(text, encoding="utf-8")
        assert load_job(path).roof.cut_pieces == how
