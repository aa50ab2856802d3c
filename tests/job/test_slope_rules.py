"""Rules of slopes, openings and the roof that hold between keys: each broken once, and the words it is refused with."""

from __future__ import annotations

from pathlib import Path

import pytest
from bad_jobs import GOOD

from fabplan.errors import JobError
from fabplan.job.load import load_job

COUNTED = GOOD.replace("count = 40\n", "").replace("count = 6\n", "")  # the slopes count the shingles
SLOPE = '[[slope]]\nname = "south"\nshape = "rectangle"\npiece = "A"\nbottom = "60 in"\nheight = "48 in"\n'
HOLE = '[[slope.openings]]\nfrom_left = "10 in"\nup = "10 in"\nwidth = "9 in"\nheight = "9 in"\n'
SPIRE = '[[slope]]\nname = "turret"\nshape = "irregular-spire"\npiece = "A"\n'


def said(folder: Path, text: str) -> str:
    path = folder / "job.toml"
    path.write_text(COUNTED + text, encoding="utf-8")
    with pytest.raises(JobError) as caught:
        load_job(path)
    assert caught.value.exit_code == 2
    return str(caught.value)


def test_the_slopes_they_start_from_are_good(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(COUNTED + SLOPE + HOLE + '[roof]\nunderlap = "2 in"\n', encoding="utf-8")
    assert load_job(path).slopes[0].openings[0].width == 9 * 25_400_000


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('underlap = "4 in"', "underlap can be no more than cap_leg"),
        ('roll_width = "0 in"', "roll_width must be more than 0"),
        ('edge_nail_spacing = "0 in"', "edge_nail_spacing must be more than 0"),
        ('roll_side_lap = "36 in"', "roll_side_lap must be less than roll_width"),
        ('roll_end_lap = "67 ft"', "roll_end_lap must be less than roll_length"),
        ('edge_lap = "120 in"', "edge_lap must be less than edge_length"),
        ('cut_edge_fold = "-1 in"', "roof > cut_edge_fold: must not be negative"),
        ('mark_to = "0 in"', "mark_to must be more than 0"),
    ],
)
def test_a_roof_rule_out_of_range(tmp_path: Path, line: str, says: str) -> None:
    assert says in said(tmp_path, f"{SLOPE}[roof]\n{line}\n")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('width = "9 in"', 'width = "0 in"', "an opening's width and height must be more than 0"),
        ('height = "9 in"\n', "", "an opening needs height (or points)"),
        (
            'up = "10 in"\n',
            'up = "10 in"\npoints = [["1 in", "1 in"], ["9 in", "1 in"], ["5 in", "9 in"]]\n',
            "not both (found points and from_left)",
        ),
    ],
)
def test_an_opening_is_points_or_a_whole_rectangle(tmp_path: Path, old: str, new: str, says: str) -> None:
    assert old in HOLE
    assert says in said(tmp_path, SLOPE + HOLE.replace(old, new))


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        (
            'eaves = ["60 in", "60 in", "60 in"]\nhips = ["90 in", "90 in", "90 in", "90 in"]\n',
            "as many hips as eaves are needed (found 3 eaves, 4 hips)",
        ),
        (
            'eaves = ["60 in", "0 in", "60 in"]\nhips = ["90 in", "90 in", "90 in"]\n',
            "every eave and hip must be more than 0",
        ),
        ('eaves = ["60 in", "60 in", "60 in"]\nslant = ["90 in", "90 in"]\n', "(found 3 eaves, 2 slants)"),
        (
            'eaves = ["60 in", "60 in", "60 in"]\nslant = ["90 in", "0 in", "90 in"]\n',
            "every slant must be more than 0",
        ),
        ('eaves = ["60 in", "60 in", "60 in", "60 in"]\nslant = "90 in"\n', "leave a base of 4 sides free to rack"),
        ('eaves = ["60 in", "60 in", "60 in"]\n', "an irregular-spire also needs hips"),
    ],
)
def test_a_spire_has_a_hip_for_each_eave(tmp_path: Path, keys: str, says: str) -> None:
    assert says in said(tmp_path, SPIRE + keys)


def test_an_edge_runs_past_or_stops_short(tmp_path: Path) -> None:
    both = 'run_past = {left = "1 in"}\nstop_short = {left = "1 in"}\n'
    assert "run_past and stop_short both name the left edge; give one" in said(tmp_path, SLOPE + both)


@pytest.mark.parametrize("sizes", [{"left": 40, "right": 40, "top": 20}, {"left": 40, "right": 60, "top": 60}])
def test_an_ell_that_is_none(tmp_path: Path, sizes: dict[str, int]) -> None:
    taped = "".join(f'{key} = "{inch} in"\n' for key, inch in sizes.items())
    slope = SLOPE.replace("rectangle", "ell").replace('height = "48 in"\n', taped)
    assert "higher on one side than on the other, and its top is shorter" in said(tmp_path, slope)
