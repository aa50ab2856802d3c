"""A plan made by two processes is the plan made by one, and its faults and stops come through."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future
from fractions import Fraction
from typing import Any

import pytest
from plan_jobs import JOBS, made

from fabplan.bending.errors import BendError
from fabplan.bending.model import Mend
from fabplan.errors import FabplanError, JobError, JobErrors, PlanError, ProofError
from fabplan.nesting.problem import NoRoomError
from fabplan.nesting.search.found import Run
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.workers import Here, Workers, asked_to_stop, processes

pytestmark = pytest.mark.processes
NONE = Fraction(0)


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    with processes(1) as made:
        yield made


def limits(**more: Any) -> Run:
    return Run(effort=1, seed=0, margin=NONE, fewer_setups=NONE, offcut_credit=NONE, pair=True, **more)


def until_stopped() -> str:
    while not asked_to_stop():
        time.sleep(0.01)
    return "stopped"


def refuse() -> None:
    raise BendError("A", ["Edge 1 is crushed."], [Mend(says="Fold edge 2 first.")])


@pytest.mark.parametrize("name", JOBS)
def test_the_plan_is_the_same_with_another_process(name: str, workers: Workers) -> None:
    job, alone, _ = made(name)
    assert plan_json(make_plan(job, effort=0, seconds=None, hands=workers)) == plan_json(alone)


@pytest.mark.parametrize(
    "error",
    [
        PlanError("no", help_="do this"),
        JobError("must be a length", file="a.toml", key="hem", value='"x"', write="1 in", line=3),
        JobErrors([JobError("one"), JobError("two", file="b.toml")]),
        ProofError("cut plan", ["a", "b"]),
        NoRoomError("fits nowhere", help_="buy", marks=["A"]),
        BendError("A", ["Edge 1 is crushed."], [Mend(says="Fold edge 2 first.")]),
    ],
    ids=lambda e: type(e).__name__,
)
def test_an_error_of_another_process_comes_back_whole(error: FabplanError) -> None:
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert {k: str(v) for k, v in vars(again).items()} == {k: str(v) for k, v in vars(error).items()}


def test_a_fault_met_beside_the_nest_is_raised(workers: Workers) -> None:
    with pytest.raises(BendError, match="crushed"):
        workers.start(refuse).result()


def test_a_stop_reaches_the_work_beside() -> None:
    asked = threading.Event()
    with processes(1) as others:
        run = limits(hands=others, should_stop=asked.is_set)
        work: Future[str] = others.start(until_stopped)
        asked.set()
        assert run.wait(work) == "stopped"


def test_here_does_the_work_at_once() -> None:
    done: list[int] = []
    Here().start(done.append, 3)
    assert done == [3]
    with pytest.raises(BendError):
        Here().start(refuse)


def stay() -> None:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    time.sleep(600)


def test_a_process_that_does_not_go_is_ended_by_force() -> None:
    with processes(1) as others:
        others.start(os.getpid).result()
        work = others.start(stay)
        time.sleep(0.5)
    assert work.exception() is not None
    assert not multiprocessing.active_children()


class Late(Future[str]):
    """Work that ends just after the wait for it has."""

    def result(self, timeout: float | None = None) -> str:
        if not self.done():
            self.set_result("in time")
            raise TimeoutError
        return super().result(timeout)


def test_work_that_ends_as_the_wait_does_is_not_lost() -> None:
    assert limits().wait(Late()) == "in time"
