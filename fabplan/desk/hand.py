"""A process that does one kind of slow work, told and heard over a pipe; the newest order drops the one before.

It does not hear Ctrl-C, which is this process's, and it ends when this one does.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import traceback
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from typing import Any, Literal

from fabplan.errors import FabplanError
from fabplan.workers import ctrl_c_left_to_parent, end_with_parent

ENDED = "The system ended a part of this run. Close other programs (memory) and try again."
BROKEN = "This is a fault of fabplan, not of the job; its details stand in the terminal."
PAUSE = 0.8  # seconds that a first picture waits for a newer order before it is proved
QUIET = 0.4  # seconds without a newer order before the whole job is gone over: pictures come first
Kind = Literal["look", "slope", "plan"]
_ROOF = ("fabplan.desk.work", "fabplan.plan.make", "fabplan.roof.plan", "fabplan.plotter.roof.elevation")
LOADED: dict[Kind, tuple[str, ...]] = {
    "look": _ROOF,
    "slope": (*_ROOF, "fabplan.roof.check.whole", "fabplan.packet.output.html"),
    "plan": (*_ROOF, "fabplan.nesting.nest", "fabplan.bending.schedule"),
}


class Hand:
    """One such process.

    Parameters
    ----------
    kind : {"look", "slope", "plan"}
    heard : callable
        Called with every answer, in a thread of its own; with a `FabplanError` when the work failed.
    """

    def __init__(self, kind: Kind, heard: Callable[[Any], None]) -> None:
        self._kind: Kind = kind
        self._heard = heard
        self._lock = threading.Lock()
        self._line: Connection | None = None
        self._process: Any = None
        self._stop: Event | None = None
        self._waiting: tuple[Any, ...] | None = None
        self._wanted = False

    def want(self) -> None:
        """Have the process begun soon: an order is likely."""
        self._wanted = True

    def tend(self) -> None:
        """From the main thread, now and then: begin the process when an order waits for it, or it is wanted."""
        waiting, self._waiting = self._waiting, None
        if self._wanted:
            self._wanted = False
            self.start()
        if waiting is not None:
            self.start()
            self.order(*waiting)

    def start(self) -> None:
        """Have the process there, before it is needed."""
        with self._lock:
            if self._process is not None and self._process.is_alive():
                return
            context = multiprocessing.get_context("spawn")
            self._line, theirs = context.Pipe()
            self._stop = context.Event()
            self._process = context.Process(target=_serve, args=(self._kind, theirs, self._stop), daemon=False)
            with ctrl_c_left_to_parent():
                self._process.start()
            theirs.close()
            threading.Thread(target=self._listen, args=(self._line,), daemon=True).start()

    def order(self, *order: Any) -> None:
        """Give the process something to do; what it is doing is dropped when it can be."""
        if self._process is None or not self._process.is_alive():
            self._waiting = order
            return
        assert self._line is not None and self._stop is not None
        self._stop.clear()
        with self._lock, suppress(OSError, BrokenPipeError):
            self._line.send(order)

    def stop(self) -> None:
        """Have the work under way end with what it has."""
        if self._stop is not None:
            self._stop.set()

    def end(self) -> None:
        """End the process at once."""
        with self._lock:
            process, self._process = self._process, None
        if process is None:
            return
        process.terminate()
        process.join(2.0)
        if process.is_alive():
            process.kill()
            process.join(1.0)

    def _listen(self, line: Connection) -> None:
        while True:
            try:
                answer = line.recv()
            except (EOFError, OSError):
                if line is self._line and self._process is not None:
                    self._heard(FabplanError(ENDED))
                return
            self._heard(answer)


# -- in the process ---------------------------------------------------------------------------------------------------


def _serve(kind: Kind, line: Connection, stop: Event) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with_parent()
    if kind == "look" and hasattr(os, "nice"):
        os.nice(5)  # where there are few cores, pictures come first
    for name in LOADED[kind]:  # before the first order, not in it
        import_module(name)
    work = _plan(line, stop) if kind == "plan" else _look(line, kind)
    while True:
        try:
            order = line.recv()
            while line.poll():
                order = line.recv()
        except (EOFError, OSError):
            return
        try:
            work(*order)
        except FabplanError as fault:
            _send(line, fault)
        except Exception:
            traceback.print_exc()
            _send(line, FabplanError(BROKEN))


def _send(line: Connection, answer: Any) -> None:
    with suppress(OSError):
        line.send(answer)


def _look(line: Connection, kind: Kind) -> Callable[..., None]:
    from fabplan.desk.work import Looker

    looker = Looker()
    pause = PAUSE if kind == "slope" else 0.0

    def look(*order: Any) -> None:
        if kind == "look" and line.poll(QUIET):
            return
        for known in looker.look(*order) if kind == "look" else looker.slope(*order):
            _send(line, known)
            if line.poll(pause):  # something newer was typed
                return

    return look


def _plan(line: Connection, stop: Event) -> Callable[..., None]:
    def plan(*rest: Any) -> None:
        from fabplan.desk import work

        job, folder, seconds = rest
        _send(line, work.plan(job, folder, lambda step: _send(line, step), stop.is_set, seconds))

    return plan
