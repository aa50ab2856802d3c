"""Pieces that cannot be made are refused with the key, the rule and what to write; changed patterns do not pass."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import blank_jobs
import pytest

from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError

SQUARE = [["0 in", "0 in"], ["8 in", "0 in"], ["8 in", "6 in"], ["0 in", "6 in"]]
BOWTIE = [["0 in", "0 in"], ["8 in", "6 in"], ["8 in", "0 in"], ["0 in", "6 in"]]
HEM = {"width": "1/2 in", "toward": "face"}

REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "a fold on edge 5 of four": (
        {"kind": "outline", "points": SQUARE, "folds": [{**HEM, "edge": 5}]},
        r"folds\[1\] > edge: the outline has 4 edges \(found 5\)\. Write a number from 1 to 4",
    ),
    "an edge folded twice": (
        {"kind": "outline", "points": SQUARE, "folds": [{**HEM, "edge": 2}, {**HEM, "edge": 2}]},
        r"folds\[2\] > edge: an edge can be folded once \(found 2\)",
    ),
    "a corner given twice": (
        {"kind": "outline", "points": [*SQUARE, SQUARE[-1]]},
        "points: two corners that follow each other must not be the same point",
    ),
    "an outline that crosses itself": (
        {"kind": "outline", "points": BOWTIE},
        "points: the outline must not cross or touch itself and must enclose some metal",
    ),
    "an outline the wrong way round": (
        {"kind": "outline", "points": SQUARE[::-1]},
        "these run clockwise.* Write the same corners in the opposite order",
    ),
    "three legs and one bend": (
        {"kind": "section", "length": "48 in", "legs": ["1 in", "2 in", "1 in"], "bends": [90]},
        r"bends: 3 legs are joined by 2 bends \(found 1 bends\)",
    ),
    "a radius too many": (
        {"kind": "section", "length": "48 in", "legs": ["1 in", "2 in"], "bends": [90], "inside_radius": ["0 in"] * 2},
        r"inside_radius: one radius, or one for each of the 1 bends \(found 2 radii\)",
    ),
    "a lap longer than the brake": (
        {"kind": "section", "length": "300 in", "legs": ["1 in", "2 in"], "bends": [90], "lap": "130 in"},
        "lap: the lap must be shorter than the (brake|shear), 120 in",
    ),
    "a leg shorter than its bends": (
        {"kind": "section", "length": "48 in", "legs": ["2 in", "1/64 in", "2 in"], "bends": [90, 90]},
        r"legs\[2\]: leg 2 must be longer than its bends take from it",
    ),
    "a hem narrower than its bend at the start": (
        {
            "kind": "section",
            "length": "48 in",
            "legs": ["2 in", "2 in"],
            "bends": [90],
            "start_hem": {"width": "1/64 in", "toward": "face", "gap": "1/16 in"},
        },
        "start_hem > width: the hem must be longer than its bends take from it",
    ),
    "a hem narrower than its bend at the end": (
        {
            "kind": "section",
            "length": "48 in",
            "legs": ["2 in", "2 in"],
            "bends": [90],
            "end_hem": {"width": "1/64 in", "toward": "face", "gap": "1/16 in"},
        },
        "end_hem > width: the hem must be longer than its bends take from it",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_piece_that_cannot_be_made_is_refused_in_words(name: str) -> None:
    keys, says = REFUSED[name]
    with pytest.raises(JobError, match=says) as fault:
        develop(blank_jobs.job(blank_jobs.piece(**keys)), blank_jobs.metals())
    assert 'piece "A"' in str(fault.value)


def made(**keys: Any) -> tuple[Any, FlatPattern]:
    job = blank_jobs.job(blank_jobs.piece(**keys))
    (pattern,) = develop(job, blank_jobs.metals())
    assert not check_patterns((pattern,), job, blank_jobs.metals())
    return job, pattern


DIAMOND = {"kind": "diamond", "side": "9 in", "hem": "3/4 in"}
RECTANGLE = {"kind": "rectangle", "width": "4 in", "length": "9 in"}
STRIP = {"kind": "section", "length": "48 in", "legs": ["1 in", "2 in"], "bends": [90]}
CHANGES: dict[str, tuple[dict[str, Any], dict[str, Any], str]] = {
    "another thickness": (DIAMOND, {"thickness": 0.03}, "the thickness is not the metal's"),
    "a blank more": (DIAMOND, {"count": 11}, "11 blanks of which 0 spare, not 10"),
    "one of them spare": (DIAMOND, {"spare": 1}, "of which 1 spare"),
    "another rounding": (DIAMOND, {"rounding": 0.004}, "the rounding is 0.004000"),
    "rounded by an inch": (RECTANGLE, {"rounding": 1.0}, "rounded by more than a graduation allows"),
    "a step wider": (RECTANGLE, {"width_units": 129}, "the width is 129 steps, not 128"),
    "a plain blank in two strips": (RECTANGLE, {"parts": 2}, "a flat piece has no section and is one blank"),
    "a strip in two": (STRIP, {"parts": 2}, "2"),
    "no section": (STRIP, {"section": None}, "section"),
    "grain it was not given": (DIAMOND, {"grain": "along"}, "grain"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_pattern_does_not_pass(name: str) -> None:
    keys, change, says = CHANGES[name]
    job, pattern = made(**keys)
    faults = check_patterns((replace(pattern, **change),), job, blank_jobs.metals())
    assert any(says in f for f in faults), faults


def test_counts_of_the_roof_hold_for_pieces_without_their_own() -> None:
    job = blank_jobs.job(blank_jobs.piece(count=None, **DIAMOND))
    (pattern,) = develop(job, blank_jobs.metals(), counts={"A": 7})
    assert pattern.count == 7
    short = replace(pattern, count=1, spare=2)
    assert any("more spare than blanks" in f for f in check_patterns((short,), job, blank_jobs.metals()))
