"""Every kind of drawing against its golden marks: a change of a picture must be meant."""

import golden_marks
import pytest
from legible import assert_legible

KINDS = sorted(p.stem for p in golden_marks.FOLDER.glob("*.txt"))


@pytest.fixture(scope="module")
def drawings():
    return golden_marks.drawings()


def test_every_kind_has_golden_marks(drawings):
    assert sorted(drawings) == KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_marks_are_as_before(kind, drawings):
    golden = (golden_marks.FOLDER / f"{kind}.txt").read_text(encoding="utf-8")
    assert golden_marks.written(drawings[kind]) == golden
    assert_legible(drawings[kind])
