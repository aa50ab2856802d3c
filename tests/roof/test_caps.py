"""A hip cap is compared with the hips; parts take their diamond's metal; a gable's walls end below its peak."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.blanks.develop import develop
from fabplan.errors import FabplanError, JobError
from fabplan.job.load import load_job
from fabplan.plan.make import make_pieces, metals_of

HEAD = """
[job]
name = "Garden house"
number = "17"
[metal]
use = "copper-16oz"
"""
DIAMOND = """
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
"""


def job(tmp: Path, text: str) -> object:
    path = tmp / "job.toml"
    path.write_text(text, encoding="utf-8")
    return load_job(path)


def spire(bends: str) -> str:
    """Four sides of 60 in, slant 120 in: run 30 in, so every slope stands at acos(1/4); its hips turn 86.42 degrees.

    acos(sin^2 s cos 90 + cos^2 s) with cos s = 1/4: acos(1/16).
    """
    cap = f"""
[[piece]]
mark = "H"
kind = "section"
length = "48 in"
legs = ["3 in", "3 in"]
bends = [{bends}]
"""
    slope = """
[[slope]]
name = "turret"
shape = "regular-spire"
piece = "A"
sides = 4
side = "60 in"
slant = "120 in"
[roof]
hip_piece = "H"
"""
    return HEAD + DIAMOND + cap + slope


@pytest.mark.parametrize("bends", ["-86.4", "-82", "-91"])
def test_a_cap_within_five_degrees_is_taken(tmp_path: Path, bends: str) -> None:
    assert make_pieces(job(tmp_path, spire(bends))).roof is not None  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("bends", "says"),
    [
        ("86.4", r'piece "H" > bends: is bent inside out: turret hip.* asks for 86\.4° toward the back'),
        ("-60", r"is turned 60\.0° toward the back: .*asks for 86\.4°.*bends that add up to -86\.4"),
    ],
)
def test_a_cap_bent_otherwise_is_refused(tmp_path: Path, bends: str, says: str) -> None:
    with pytest.raises(JobError, match=says) as fault:
        make_pieces(job(tmp_path, spire(bends)))  # type: ignore[arg-type]
    assert fault.value.exit_code == 2


def test_a_part_is_of_its_diamonds_metal(tmp_path: Path) -> None:
    text = HEAD + DIAMOND.replace('side = "10', 'count = 10\nmetal = "zinc-0.7mm"\nside = "10')
    text += '[[piece]]\nmark = "S"\nkind = "starter"\nfor = "A"\ncount = 5\n'
    read = job(tmp_path, text)
    patterns = {p.mark: p.metal for p in develop(read, metals_of(read))}  # type: ignore[arg-type]
    assert patterns == {"A": "zinc-0.7mm", "S": "zinc-0.7mm"}
    own = job(tmp_path, text.replace('kind = "starter"', 'kind = "starter"\nmetal = "copper-20oz"'))
    assert {p.mark: p.metal for p in develop(own, metals_of(own))}["S"] == "copper-20oz"  # type: ignore[arg-type]


def test_a_ridge_half_without_a_joint_says_what_helps(tmp_path: Path) -> None:
    text = HEAD + DIAMOND.replace('side = "10', 'count = 1\njoint = 0\nside = "10')
    text += '[[piece]]\nmark = "R"\nkind = "ridge-half"\nfor = "A"\ncount = 1\n'
    read = job(tmp_path, text)
    with pytest.raises(FabplanError, match=r"with joint = 0 on the diamond .*found \"A\".*or cut_fold"):
        develop(read, metals_of(read))  # type: ignore[arg-type]


def test_a_gable_wall_ends_below_the_peak(tmp_path: Path) -> None:
    gable = """
[[slope]]
name = "S"
shape = "gable"
piece = "A"
bottom = "100 in"
height = "50 in"
left = "60 in"
right = "20 in"
"""
    with pytest.raises(JobError, match="left, a gable's wall, must be lower than height, its peak"):
        job(tmp_path, HEAD + DIAMOND + gable)


@pytest.mark.parametrize(
    "sizes",
    [
        'shape = "trapezoid"\nbottom = "60 in"\ntop = "90 in"\nheight = "50 in"\ntop_from_left = "-20 in"\n'
        'edges = {left = "valley", right = "valley"}',
        'shape = "triangle"\nbottom = "60 in"\nheight = "50 in"\napex_from_left = "-10 in"',
        'shape = "polygon"\npoints = [["0 in", "0 in"], ["60 in", "0 in"], ["70 in", "50 in"], ["-10 in", "50 in"]]',
    ],
)
def test_offsets_to_the_left_of_the_eave_are_taken(tmp_path: Path, sizes: str) -> None:
    slope = f'\n[[slope]]\nname = "cheek"\npiece = "A"\n{sizes}\n'
    pieces = make_pieces(job(tmp_path, HEAD + DIAMOND + slope))  # type: ignore[arg-type]
    assert pieces.roof is not None
    assert min(x for x, _ in pieces.roof.slopes[0].slope.outline) < -9
