"""What `check` says back: every kind of piece and stock in one line a shop can read against its own paper."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.job.summary import said_rows

HEAD = """\
[job]
name = "Porch"
number = "7"
spare = "10 pieces"
keep_at_least = "6 x 12 in"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 1200
side = "10 in"
hem = "3/4 in"
"""


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (
            'kind = "diamond"\nblank = "11-1/2 in"\nupper_hem = "1 in"\nlower_hem = "3/4 in"\nhem_gap = "0.05 in"\n'
            'grain = "along"\nallowance = "plain"\ntop_angle = 75.5\n',
            "3: diamond, blank side 11-1/2 in, top angle 75.5°, upper hems 1 in, lower hems 3/4 in, gap 0.05 in, "
            "grain along, plain allowance: a fold takes its width",
        ),
        ('kind = "starter"\nfor = "A"\n', "3: starter, part of A"),
        ('kind = "rake-left"\nfor = "A"\ncut_fold = "none"\n', "3: rake-left, part of A, no fold on the cut edge"),
        (
            'kind = "ridge-half"\nfor = "A"\ncut_fold = {width = "1 in", toward = "face", turned = 90}\n',
            "3: ridge-half, part of A, cut edge: 1 in to the face turned 90°",
        ),
        (
            'kind = "starter"\nfor = "A"\ncut_fold = {width = "1 in", toward = "back", gap = "1/16 in"}\n',
            "3: starter, part of A, cut edge: 1 in to the back, gap 1/16 in",
        ),
        (
            'kind = "flat-seam"\nwidth = "18 in"\nlength = "24 in"\nhem = "3/4 in"\n',
            "3: flat-seam, 18 in x 24 in finished, hems 3/4 in, gap 1/16 in (default)",
        ),
        ('kind = "rectangle"\nwidth = "2 in"\nlength = "4 in"\n', "3: rectangle, 2 in x 4 in, may be turned"),
        (
            'kind = "rectangle"\nwidth = "2 in"\nlength = "4 in"\nmay_turn = false\nmetal = "zinc-0.7mm"\n',
            "3: rectangle, 2 in x 4 in, not turned, of zinc-0.7mm",
        ),
        ('kind = "outline"\npoints = [[0, 0], [4, 0], [0, 4]]\n', "3: outline, 3 corners, 0 folds"),
        (
            'kind = "section"\nlength = "4 ft"\nlegs = ["3 in"]\n'
            'start_hem = {width = "1/2 in", toward = "back", gap = 0}\n',
            "3: section, 48 in long, legs 3 in, start hem 1/2 in to the back, closed",
        ),
    ],
)
def test_piece(tmp_path: Path, keys: str, said: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(HEAD + '[[piece]]\nmark = "B"\ncount = 3\n' + keys, encoding="utf-8")
    rows = dict(reversed(said_rows(load_job(path))))
    assert rows["piece B"] == said
    assert rows["piece A"].startswith("1,200: diamond")
    assert rows["spare"] == "10 of every mark"
    assert rows["offcuts kept"] == "6 in x 12 in or bigger"


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (
            'form = "coil"\nwidth = "24 in"\non_hand = "250 ft"\nprice = "9.40 per lb"\n',
            "coil, 24 in wide, cut off to 120 in at most (default), 250 ft on hand, 9.40 per lb",
        ),
        (
            'form = "coil"\nwidth = "24 in"\non_hand = "310 lb"\nlongest_cut_off = "8 ft"\ntrim_each_edge = "1/8 in"\n',
            "coil, 24 in wide, cut off to 96 in at most, 1/8 in trimmed off each edge, 310 lb on hand",
        ),
        (
            'form = "sheet"\nwidth = "36 in"\nlength = "96 in"\non_hand = 4\ngrain = "across"\n',
            "sheet, 36 in x 96 in, 4 on hand, grain across the length",
        ),
        (
            'form = "offcut"\nwidth = "12 in"\nlength = "30 in"\nmetal = "copper-16oz"\n',
            "offcut, 12 in x 30 in, one, of copper-16oz",
        ),
    ],
)
def test_stock(tmp_path: Path, keys: str, said: str) -> None:
    path = tmp_path / "job.toml"
    path.write_text(HEAD + '[[stock]]\nname = "s"\n' + keys, encoding="utf-8")
    assert dict(reversed(said_rows(load_job(path))))["stock s"] == said


def test_slopes_and_saw(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    text = HEAD.replace("count = 1200\n", "") + '[shear]\nkerf = "1/16 in"\n'
    slope = '[[slope]]\nname = "north"\nshape = "rectangle"\npiece = "A"\nbottom = "10 ft"\nheight = "6 ft"\n'
    path.write_text(text + slope, encoding="utf-8")
    rows = dict(reversed(said_rows(load_job(path))))
    assert rows["slope north"] == "rectangle, laid with A"
    assert rows["piece A"].startswith("counted by the slopes: diamond")
    assert rows["shear"].endswith("kerf 1/16 in")
