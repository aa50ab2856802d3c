"""Work done in processes of its own: on another core, its memory given back afterwards, Ctrl-C left to this one."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import ParamSpec, TypeVar

from fabplan.errors import FabplanError

P = ParamSpec("P")
T = TypeVar("T")


class Workers:
    """Processes that wait for work; made by `processes`."""

    def __init__(self, pool: ProcessPoolExecutor) -> None:
        self._pool = pool

    def start(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Have a module's function called with these arguments; both must survive being copied to another process."""
        with _ctrl_c_left_to_parent():
            return self._pool.submit(work, *args, **kwargs)


@contextmanager
def processes(most: int) -> Iterator[Workers]:
    """At most so many processes, gone when the block ends and ended at once when it is interrupted.

    Raises
    ------
    FabplanError
        The system ended a process, which it does when memory runs out.
    """
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=most, mp_context=context, initializer=_end_with_parent) as pool:
        try:
            yield Workers(pool)
        except KeyboardInterrupt:
            for child in multiprocessing.active_children():
                child.terminate()
            raise
        except BrokenProcessPool as fault:
            raise FabplanError(
                "The system ended a part of this run. Nothing was written. Close other programs (memory) and try again."
            ) from fault


def _end_with_parent() -> None:
    """In a new process: end when the one that made it is killed, rather than wait for its work for ever."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@contextmanager
def _ctrl_c_left_to_parent() -> Iterator[None]:
    """Processes started in here do not hear Ctrl-C."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
