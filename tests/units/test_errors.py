"""Messages: placed, worded, and safe to show on any terminal."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import (
    BadValueError,
    FabplanError,
    JobError,
    JobErrors,
    PlanError,
    ProofError,
    is_hidden,
    quoted,
    visible,
)


def test_a_fault_says_where_what_found_and_what_to_write() -> None:
    fault = JobError(
        "must be more than 0", file="job.toml", line=3, key='piece "A" > hem', value='"-1 in"', write='"1 in"'
    )
    assert str(fault) == 'job.toml, line 3: piece "A" > hem: must be more than 0 (found "-1 in"). Write "1 in".'
    assert str(JobError("the rack is empty")) == "the rack is empty."
    assert fault.exit_code == 2


def test_a_value_is_placed_later() -> None:
    value = BadValueError("must be a length", value='"wide"', write='"1 in"')
    placed = value.at(file="job.toml", key="shear", line=9)
    assert str(placed) == 'job.toml, line 9: shear: must be a length (found "wide"). Write "1 in".'
    assert isinstance(value, ValueError)


def test_several_faults_read_as_the_first() -> None:
    faults = JobErrors([JobError("one", file="a.toml", line=1), JobError("two", file="a.toml", line=2)])
    assert str(faults) == "a.toml, line 1: one.\na.toml, line 2: two."
    assert (faults.rule, faults.line, faults.exit_code) == ("one", 1, 2)


def test_other_branches() -> None:
    plan = PlanError("The piece fits nowhere.", help_="Add a wider sheet.")
    assert (str(plan), plan.exit_code) == ("The piece fits nowhere. Add a wider sheet.", 1)
    proof = ProofError("cut plan", ["blank A overlaps blank B"])
    assert "nothing was written" in str(proof)
    assert all(isinstance(error, FabplanError) for error in (plan, proof, JobError("x")))


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("a", '"a"'),
        (True, "true"),
        (7, "7"),
        ({"a": 1}, "a table"),
        ([1, 2], "a list of 2"),
        ("x" * 70, '"' + "x" * 60 + '..."'),
        ("\x1b[31m", '"\\x1b[31m"'),
        ("\u202e", '"\\u202e"'),
        ("\U000e0001", '"\\U000e0001"'),
        ("½ ″ é 😀", '"½ ″ é 😀"'),
    ],
)
def test_quoted(value: object, shown: str) -> None:
    assert quoted(value) == shown


def test_a_number_too_long_to_write() -> None:
    assert quoted(10**5000) == "a very long number"


@given(st.text())
def test_nothing_hidden_is_shown(text: str) -> None:
    assert not any(is_hidden(char) for char in visible(text))
    assert not any(is_hidden(char) for char in str(JobError(text, file=text, key=text, value=quoted(text), write=text)))
