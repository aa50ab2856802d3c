"""Pieces that must hook each other: clear errors where they cannot, warnings where practice says otherwise."""

from __future__ import annotations

from typing import Any

import pytest
from blank_jobs import copper, job, metals, piece

from fabplan.blanks.develop import develop
from fabplan.errors import JobError, JobErrors

DIAMOND: dict[str, Any] = {"kind": "diamond", "side": "10 in", "hem": "3/4 in"}
DRIP: dict[str, Any] = {
    "kind": "section",
    "mark": "D",
    "length": "48 in",
    "legs": ["3/4 in", "2 in", "3 in"],
    "bends": [90, -45],
}
STARTER: dict[str, Any] = {"kind": "starter", "mark": "S", "for": "A", "hooks": "D"}
CLOSED = {"width": "1/2 in", "toward": "back", "gap": "0 in"}
WIDE_OPEN = {"width": "1/2 in", "toward": "back", "gap": "1/4 in"}

ERRORS = [
    (
        [{**DIAMOND, "hem": "0.05 in"}],
        'job.toml: piece "A" > hem: hems 0.05 in and 0.05 in wide lap 0.1029 in and cannot hook each other '
        '(found 0.05 in). Write a wider hem, for example "3/4 in".',
    ),
    (
        [{**DIAMOND, "lower_hem": "0.05 in"}],
        'job.toml: piece "A" > lower_hem: hems 0.75 in and 0.05 in wide lap 0.8029 in and cannot hook each other '
        '(found 0.05 in). Write a wider hem, for example "3/4 in".',
    ),
    (
        [{**DIAMOND, "hem_gap": "0.02 in"}],
        "job.toml: piece \"A\" > hem_gap: a hem that must hook needs a gap of at least the metal's thickness, "
        '0.0216 in (found 0.02 in). Write hem_gap = "1/16 in".',
    ),
    (
        [{**DIAMOND, "lower_gap": "0 in"}],
        "job.toml: piece \"A\" > lower_gap: a hem that must hook needs a gap of at least the metal's thickness, "
        '0.0216 in (found 0 in). Write hem_gap = "1/16 in".',
    ),
    (
        [{**DIAMOND, "side": "3/4 in"}],
        'job.toml: piece "A" > side: the locks take 0.8029 in of the finished side of 0.75 in, so nothing would show. '
        "Write a longer side or narrower hems.",
    ),
    (
        [{**DIAMOND, "side": "1-1/4 in"}],
        'job.toml: piece "A" > hem: the hem on edge 1 is wider than the piece allows beside its neighbours. '
        "Write a narrower fold, or a larger piece.",
    ),
    (
        [{"kind": "flat-seam", "width": "2 in", "length": "9 in", "hem": "0.04 in"}],
        'job.toml: piece "A" > hem: hems this narrow cannot hook each other (found 0.04 in). Write a wider hem.',
    ),
    (
        [{"kind": "flat-seam", "width": "1/2 in", "length": "9 in", "hem": "1/2 in"}],
        'job.toml: piece "A" > width: the locks take 0.5529 in of it, so nothing would show. Write a larger size.',
    ),
    (
        [DIAMOND, {**STARTER, "hooks": "X"}, DRIP],
        'job.toml: piece "S" > hooks: must be the mark of a section (found "X"). Write one of "D".',
    ),
    (
        [DIAMOND, {**STARTER, "for": "D"}, DRIP],
        'job.toml: piece "S" > for: must be the mark of a diamond (found "D"). Write one of "A".',
    ),
    (
        [DIAMOND, {**STARTER, "cut_fold": "none"}, DRIP],
        'job.toml: piece "S" > cut_fold: to hook section "D" the cut edge must be hemmed. '
        'Write cut_fold = {width = "1 in", toward = "back", turned = 180, gap = "1/16 in"}.',
    ),
    (
        [DIAMOND, STARTER, {**DRIP, "start_hem": WIDE_OPEN, "end_hem": WIDE_OPEN}],
        'job.toml: piece "S" > cut_fold > gap: the hem cannot go round either edge of section "D": its start edge is '
        "0.2932 in thick (found 0.0625 in). Write a gap of 5/16 in or more.",
    ),
    (
        [{**DRIP, "legs": ["0.02 in", "2 in", "3 in"]}],
        'job.toml: piece "D" > legs[1]: leg 1 must be longer than its bends take from it, 0.0216 in (found 0.02 in).',
    ),
    (
        [{**DRIP, "start_hem": {**WIDE_OPEN, "width": "1/8 in"}}],
        'job.toml: piece "D" > start_hem > width: the hem must be longer than its bends take from it, 0.1466 in '
        "(found 0.125 in).",
    ),
    (
        [{"kind": "outline", "points": [["0 in", "0 in"], ["4 in", "0 in"], ["4 in", "1 in"], ["0 in", "1 in"]],
          "folds": [{"edge": 1, "width": "1-1/8 in", "toward": "back"}]}],
        'job.toml: piece "A" > folds: the hem on edge 1 is wider than the piece allows beside its neighbours. '
        "Write a narrower fold, or a larger piece.",
    ),
    (
        [{"kind": "outline", "points": [["0 in", "0 in"], ["4 in", "0 in"], ["4 in", "1 in"], ["0 in", "1 in"]],
          "folds": [{"edge": e, "width": "3/4 in", "toward": "back"} for e in (1, 3)]}],
        'job.toml: piece "A" > folds: the hems on edges 1 and 3 lie on each other when folded. '
        "Write a narrower fold, or a larger piece.",
    ),
    (
        [{"kind": "outline", "points": [["0 in", "0 in"], ["4 in", "0 in"], ["4 in", "1 in"], ["0 in", "1 in"]],
          "folds": [{"edge": e, "width": "2 in", "toward": "back", "turned": 135} for e in (1, 3)]}],
        'job.toml: piece "A" > folds: the folds on edges 1 and 3 run into each other when folded. '
        "Write a narrower fold, or a larger piece.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("pieces", "says"), ERRORS, ids=range(len(ERRORS)))
def test_pieces_that_cannot_be_made(pieces: list[dict[str, Any]], says: str) -> None:
    with pytest.raises(JobError) as caught:
        develop(job(*(piece(**p) for p in pieces)), metals())
    assert str(caught.value) == says
    assert caught.value.exit_code == 2


def test_all_faults_come_in_one_reading() -> None:
    pieces = [{**DIAMOND, "hem": "0.05 in"}, {**DRIP, "legs": ["0.02 in", "2 in", "3 in"]}]
    with pytest.raises(JobErrors) as caught:
        develop(job(*(piece(**p) for p in pieces)), metals())
    assert [e.key for e in caught.value.errors] == ['piece "A" > hem', 'piece "D" > legs[1]']


WARNINGS: list[tuple[list[dict[str, Any]], int, str]] = [
    ([{**DIAMOND, "hem": "3/8 in"}], 0, "Warning: only 5/16 in is hooked; 3/8 in is the usual least"),
    ([{**DIAMOND, "side": "14 in"}], 0, "outside the 8 to 12 in"),
    ([DIAMOND, STARTER, DRIP], 1, 'Its hem goes over the finish edge of "D" (raw edge, 0.0216 in thick).'),
    ([DIAMOND, STARTER, {**DRIP, "start_hem": CLOSED, "end_hem": WIDE_OPEN}], 1,
     'Its hem goes over the start edge of "D" (closed hem, 0.0432 in thick).'),
    ([{**DIAMOND, "hem": "1 in"}, STARTER, {**DRIP, "start_hem": CLOSED, "end_hem": WIDE_OPEN}], 1,
     "the hem is 15/16 in deep inside and the flat of that edge only 23/32 in: it will stop against the bend."),
    ([{**DRIP, "start_hem": {**CLOSED, "gap": "3/8 in"}}], 0,
     "Warning: the start hem opens 0.375 in; above 1/4 in describe it as two bends."),
    ([{**DRIP, "start_hem": {**CLOSED, "width": "1 in"}}], 0,
     "Warning: the start hem is wider than the leg it lies on."),
    ([{"kind": "flat-seam", "width": "9 in", "length": "9 in", "hem": "3/4 in", "face_edges": [1, 3]}], 0,
     "Warning: edges 1 and 3 are folded to the same side, so two of these pans cannot hook there."),
]  # fmt: skip


@pytest.mark.parametrize(("pieces", "which", "says"), WARNINGS, ids=range(len(WARNINGS)))
def test_warnings_and_notes(pieces: list[dict[str, Any]], which: int, says: str) -> None:
    made = develop(job(*(piece(**p) for p in pieces)), metals())
    assert any(says in n for n in made[which].notes), made[which].notes


def _radius_warnings(**metal: Any) -> list[str]:
    made = develop(job(piece(**{**DRIP, "start_hem": CLOSED})), metals(**metal))
    return [n for n in made[0].notes if "least radius" in n]


def test_the_least_radius_is_asked_of_bends_but_not_of_hems_in_metal_that_takes_them() -> None:
    assert _radius_warnings() == []
    assert _radius_warnings(least_inside_radius=0.02) == [
        "Warning: bent to 0 in inside; the least radius of 16 oz copper is 0.02 in."
    ]
    hemmed = {"kind": "section", "length": "9 in", "legs": ["3 in"], "start_hem": CLOSED}
    takes, stiff = (develop(job(piece(**hemmed)), metals(least_inside_radius=r))[0].notes for r in (0.02, 0.06))
    assert not any("least radius" in n for n in takes)
    assert any("least radius" in n for n in stiff)


def test_a_hook_is_measured_in_the_section_s_own_metal() -> None:
    both = {**metals(), "thick": copper(thickness=0.07)}
    drip = {**DRIP, "metal": "thick"}
    with pytest.raises(JobError, match=r"its start edge is 0\.07 in thick"):
        develop(job(piece(**DIAMOND), piece(**STARTER), piece(**drip)), both)


def test_the_parts_of_a_faulted_diamond_add_no_faults_of_their_own() -> None:
    parts = [{"kind": k, "mark": k, "for": "A"} for k in ("starter", "ridge-half", "rake-left")]
    with pytest.raises(JobError) as caught:
        develop(job(*(piece(**p) for p in [*parts, {**DIAMOND, "hem": "0.05 in"}])), metals())
    assert caught.value.key == 'piece "A" > hem'


@pytest.mark.parametrize("kind", ["starter", "ridge-half", "rake-left", "rake-right"])
def test_a_part_too_small_for_its_locks_is_refused_in_words(kind: str) -> None:
    whole = {**DIAMOND, "side": "2-3/4 in", "hem": "3/4 in"}
    part = {"kind": kind, "mark": "P", "for": "A", "cut_fold": {"width": "3 in", "toward": "back", "turned": 180}}
    with pytest.raises(JobError, match=r'piece "P" > (cut_fold|for)'):
        develop(job(piece(**whole), piece(**part)), metals())


def test_tips_that_touch_still_leave_a_ridge_half() -> None:
    whole, part = piece(**DIAMOND, joint="0 in"), {"kind": "ridge-half", "mark": "P", "for": "A"}
    with pytest.raises(JobError, match="with joint = 0 on the diamond"):  # its fold would meet the hems
        develop(job(whole, piece(**part)), metals())
    made = develop(job(whole, piece(**part, cut_fold="none")), metals())
    assert made[1].finished.length > 6
