"""Each thing the checker proves of a section's strip: one wrong strip, and the words it is refused with."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from blank_jobs import job, metals, piece

from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job


def drip(**keys: Any) -> Job:
    sizes = {"length": "48 in", "legs": ["3/4 in", "2-1/2 in", "3 in"], "bends": [90, -45]}
    hem = {"width": "1/2 in", "toward": "back", "gap": "1/16 in"}
    return job(piece(mark="D", kind="section", inside_radius="1/32 in", end_hem=hem, **{**sizes, **keys}))


def faults(change: Any) -> list[str]:
    asked = drip()
    (pattern,) = develop(asked, metals())
    return check_patterns((change(pattern),), asked, metals())


def shape(p: FlatPattern, **changes: Any) -> FlatPattern:
    assert p.section is not None
    return replace(p, section=replace(p.section, **changes))


def fold(p: FlatPattern, **changes: Any) -> FlatPattern:
    return replace(p, folds=(replace(p.folds[0], **changes), *p.folds[1:]))


def marks_backward(p: FlatPattern) -> FlatPattern:
    assert p.section is not None
    return shape(p, marks=p.section.marks[::-1])


def thicker(p: FlatPattern) -> FlatPattern:
    assert p.section is not None
    return shape(p, thickness=p.section.thickness * 2)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda p: replace(p, section=None), "a section without its shape"),
        (lambda p: shape(p, gaps=(None, None, None)), "the hem gaps are not those asked for"),
        (marks_backward, "bend marks do not go up along the strip"),
        (thicker, "the section's thickness is not the metal's"),
        (lambda p: shape(p, developed=p.section.developed + 0.01), "developed width is"),
        (lambda p: replace(p, parts=2), "made in 2 strips, not 1"),
        (lambda p: replace(p, width_units=p.width_units + 1), "sheared"),
        (lambda p: replace(p, rounding=p.rounding + 0.01), "the rounding is not sheared less developed"),
        (lambda p: fold(p, flap=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0))), "has a flap"),
        (lambda p: fold(p, line=((0.1, 0.0), (0.1, 48.0))), "is not at its mark"),
        (lambda p: replace(p, folds=p.folds[:-1]), "legs and"),
        (lambda p: replace(p, finished=replace(p.finished, length=47.0)), "the finished length is not the one asked"),
        (lambda p: replace(p, outline=p.outline[::-1]), "the sheared outline is not the strip"),
    ],
)
def test_a_wrong_strip_is_refused_with_its_words(change: Any, says: str) -> None:
    assert any(says in fault for fault in faults(change))


@pytest.mark.parametrize(
    ("keys", "strips"), [({}, 1), ({"length": "120 in"}, 1), ({"length": "121 in"}, 2), ({"length": "20 ft"}, 3)]
)
def test_strips_longer_than_the_brake_are_made_in_lapped_parts(keys: dict[str, Any], strips: int) -> None:
    """The brake of the job bends 120 in; each further strip adds that less a lap of 3 in."""
    asked = drip(**keys)
    (pattern,) = develop(asked, metals())
    assert pattern.parts == strips
    assert check_patterns((pattern,), asked, metals()) == []
