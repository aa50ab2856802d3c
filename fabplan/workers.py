"""Work done in processes of its own: on another core, its memory given back afterwards, Ctrl-C left to this one."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from importlib import import_module
from multiprocessing.process import BaseProcess
from multiprocessing.synchronize import Event
from typing import ParamSpec, Protocol, TypeVar

from fabplan.errors import FabplanError

P = ParamSpec("P")
T = TypeVar("T")


GRACE = 2.0  # seconds a process has to go once told to
_STOP: list[Event] = []
"""In a worker process: what is set when its work is to end with what it has."""


class Hands(Protocol):
    """Takes work that may be done beside other work: `Here`, or the `Workers` of `processes`."""

    def start(self, work: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Have a module's function called with these arguments."""
        ...

    def ask_to_stop(self) -> None:
        """Tell the work started, and all to come, that it should end with what it has."""
        ...


class Here:
    """No other process: work is done at once, in this one."""

    def start(self, work: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Call the function now."""
        done: Future[T] = Future()
        done.set_result(work(*args, **kwargs))
        return done

    def ask_to_stop(self) -> None:
        """Nothing is under way."""


class Workers:
    """Processes that wait for work; made by `processes`."""

    def __init__(self, pool: ProcessPoolExecutor, stop: Event) -> None:
        self._pool = pool
        self._stop = stop

    def start(self, work: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Have a module's function called with these arguments; both must survive being copied to another process."""
        with ctrl_c_left_to_parent():
            return self._pool.submit(work, *args, **kwargs)

    def ask_to_stop(self) -> None:
        """Tell work that asks `asked_to_stop` to end with what it has."""
        self._stop.set()


def asked_to_stop() -> bool:
    """In a worker process: whether its work should end with what it has; elsewhere always False."""
    return any(e.is_set() for e in _STOP)


@contextmanager
def processes(most: int) -> Iterator[Workers]:
    """At most so many processes, ended at once when the block ends, and with it work nobody waited for.

    Raises
    ------
    FabplanError
        The system ended a process, which it does when memory runs out.
    """
    context = multiprocessing.get_context("spawn")
    stop = context.Event()
    with ProcessPoolExecutor(most, context, _begin, (stop,)) as pool:
        try:
            yield Workers(pool, stop)
        except BrokenProcessPool as fault:
            raise FabplanError(
                "The system ended a part of this run. Nothing was written. Close other programs (memory) and try again."
            ) from fault
        finally:  # work nobody waited for is not wanted
            _end(multiprocessing.active_children())


@contextmanager
def beside(module: str) -> Iterator[Hands]:
    """One process to share the work of this one, as `processes`; `Here` where there is no core for it.

    It loads the module at once.
    """
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if cores < 2:
        yield Here()
        return
    with processes(1) as workers:
        workers.start(_load, module)
        yield workers


def _load(module: str) -> None:
    import_module(module)


def _end(children: Sequence[BaseProcess]) -> None:
    """End processes, by force those that do not go when told to."""
    for child in children:
        child.terminate()
    for child in children:
        child.join(GRACE)
        if child.is_alive():
            child.kill()


def _begin(stop: Event) -> None:
    _STOP.append(stop)
    end_with_parent()


def end_with_parent() -> None:
    """In a new process: end when the one that made it is killed, rather than wait for its work for ever."""
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@contextmanager
def ctrl_c_left_to_parent() -> Iterator[None]:
    """Processes started in here do not hear Ctrl-C."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
