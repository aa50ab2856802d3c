"""Ctrl-C: ends a run with one plain line wherever it strikes; an import under way is let end first."""

from __future__ import annotations

import _thread
import signal
import sys
import threading
from types import FrameType

AGAIN = 0.05
"""Seconds until a Ctrl-C that struck during an import is tried again."""


class Interrupt:
    """Handler of SIGINT that remembers it struck; raises KeyboardInterrupt, but never inside an import.

    Compiled libraries print a traceback of their own, or turn the exception into another, when it is raised while
    they are being read in.
    """

    def __init__(self) -> None:
        self.struck = False

    def __call__(self, _signum: int, frame: FrameType | None) -> None:
        self.struck = True
        if _importing(frame):
            _again()
            return
        raise KeyboardInterrupt

    def install(self) -> None:
        """Take over SIGINT, when this is the main thread."""
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGINT, self)
            sys.unraisablehook = _not_lost


def _again() -> None:
    later = threading.Timer(AGAIN, _thread.interrupt_main)
    later.daemon = True
    later.start()


def _not_lost(fault: sys.UnraisableHookArgs) -> None:
    """A Ctrl-C that struck where Python drops exceptions (a finaliser, say) is tried again; the rest is shown."""
    if issubclass(fault.exc_type, KeyboardInterrupt):
        _again()
    else:
        sys.__unraisablehook__(fault)


def _importing(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False
