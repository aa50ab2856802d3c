"""Settings of all tests.

Property tests draw the same examples every time, so that a run can be repeated. To look further, run with
``--hypothesis-profile=explore``.

What the program does beside other work, in a process of its own, is done at once in the test's process: starting one
costs a second or two. Tests of the processes themselves are marked ``processes``; runs of the command are untouched.

Tests of one file go to one worker of ``-n``: what they share is made once.

What Python compiles is kept, here and in every process that is started: that saves a second a start.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

import fabplan.workers

os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

settings.register_profile(
    "same",
    max_examples=50,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("explore", max_examples=500, deadline=None)
settings.load_profile("same")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Files, not single tests, are handed to the workers."""
    from xdist.scheduler import LoadFileScheduling

    return LoadFileScheduling(config, log)


class AtOnce(Executor):
    """Stands for a pool of processes: calls the work when it is submitted."""

    def __init__(self, *_: object) -> None:
        pass

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        done: Future[Any] = Future()
        try:
            done.set_result(fn(*args, **kwargs))
        except Exception as fault:
            done.set_exception(fault)
        return done


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Work for other processes is done in this one, unless a test is marked ``processes``."""
    pool = ProcessPoolExecutor if item.get_closest_marker("processes") else AtOnce
    fabplan.workers.ProcessPoolExecutor = pool  # type: ignore[misc, assignment]
