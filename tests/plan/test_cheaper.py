"""cut_pieces = "cheaper": metal and hours decide, by the shop's rate."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.plan.make import make_pieces

TURRET = """
[job]
name = "Dovecote"
number = "12"
currency = "$"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "9 in"
hem = "3/4 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"
[[slope]]
name = "turret"
shape = "regular-spire"
piece = "A"
sides = 8
across_flats = "60 in"
slant = "70 in"
"""


@pytest.mark.parametrize(
    ("labour", "roof", "taken"),
    [
        # at the bench takes less metal; where work costs nothing that settles it
        ("rate = 0", "", "at the bench"),
        # cut in place in a moment, and every template a day's work: the roof, whatever the metal
        ('rate = 60\nlay_cut = "1 s"\nlayout = "8 h"', "", "on the roof"),
        # templates in no time and an hour to trim a piece on the lift
        ('rate = 60\nlay_cut = "1 h"\nlayout = "1 s"', "use_off_falls = true\n", "at the bench"),
    ],
)
def test_metal_and_hours_decide(tmp_path: Path, labour: str, roof: str, taken: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(f'{TURRET}[labour]\n{labour}\n[roof]\ncut_pieces = "cheaper"\n{roof}', encoding="utf-8")
    pieces = make_pieces(load_job(path))
    assert pieces.roof is not None
    here, there = pieces.roof.ways
    assert (here.how, pieces.job.roof.cut_pieces) == (taken, taken)
    assert there.how != taken


def test_without_stock_metal_and_hours_are_weighed_in_pounds(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    no_stock = TURRET[: TURRET.index("[[stock]]")] + TURRET[TURRET.index("[[slope]]") :]
    path.write_text(f'{no_stock}[labour]\nrate = 0\n[roof]\ncut_pieces = "cheaper"\n', encoding="utf-8")
    assert make_pieces(load_job(path)).job.roof.cut_pieces == "at the bench"
