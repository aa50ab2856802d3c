"""Serve the desk on this machine until Ctrl-C."""

from __future__ import annotations

import socket
import socketserver
import sys
import threading
import webbrowser
import zlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from werkzeug.serving import ThreadedWSGIServer, WSGIRequestHandler

from fabplan.desk.app import App
from fabplan.desk.desk import Desk
from fabplan.desk.document import Document, write_blank
from fabplan.desk.guard import Guard
from fabplan.errors import FabplanError

HOME = "127.0.0.1"
MOST_LINES = 24  # open connections
SLOW = 20.0  # seconds a connection may say nothing


class _Handler(WSGIRequestHandler):
    """Answers without a log, in plain HTTP/1.1; a connection that says nothing is dropped."""

    timeout = SLOW
    protocol_version = "HTTP/1.1"
    server_version, sys_version = "fabplan", ""

    def log(self, type: str, message: str, *args: Any) -> None:
        """Nothing: what is asked holds the key, and no terminal should."""

    def version_string(self) -> str:
        return "fabplan"


class _Server(ThreadedWSGIServer):
    """A server of a few connections at a time, of this machine only."""

    daemon_threads = True
    request_queue_size = 16

    def __init__(self, port: int, app: Any, between: Callable[[], None]) -> None:
        self._room = threading.BoundedSemaphore(MOST_LINES)
        self._between = between
        super().__init__(HOME, port, app, handler=_Handler)

    def service_actions(self) -> None:
        """In the loop, between requests, in its own thread."""
        super().service_actions()
        self._between()

    def process_request(self, request: Any, client_address: Any) -> None:
        """Answer in a thread of its own, when there is room for one."""
        if not self._room.acquire(blocking=False):
            self.shutdown_request(request)
            return
        socketserver.ThreadingMixIn.process_request(self, request, client_address)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """Answer, and give the room back."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._room.release()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A browser that went away is no fault; anything else is a bug and keeps its traceback."""
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)


class Serving:
    """A desk being served.

    Parameters
    ----------
    path : Path
        The job file; begun when it is not there.
    port : int
        0 for one that stays the same for a file as long as it is free: ticks are remembered by address.
    seconds : float, optional
        Most seconds of a cut plan.

    Raises
    ------
    FabplanError
        The file cannot be read or begun, or the port is taken.
    """

    def __init__(self, path: Path, port: int = 0, **options: Any) -> None:
        self.begun = not path.exists()
        if self.begun:
            write_blank(path)
        self.desk = Desk(Document(path, str(path)), **options)
        guard = Guard(App(self.desk), ())
        usual = 49152 + zlib.crc32(str(path.resolve()).encode("utf-8", "replace")) % 16000
        if port and not _free(port):
            raise FabplanError(f"Port {port} is taken. Give another with --port, or none.")
        self.server = _Server(port or (usual if _free(usual) else 0), guard, self.desk.tend)
        guard.hosts = (f"{HOME}:{self.server.port}", f"localhost:{self.server.port}")
        self.address = f"http://{HOME}:{self.server.port}/"
        self.key_address = f"{self.address}?key={guard.key}"

    def serve(self, ready: Callable[[], None] | None = None) -> None:
        """Answer until `end` is called or Ctrl-C is pressed."""
        if ready is not None:
            ready()
        try:
            self.server.serve_forever(poll_interval=0.05)
        finally:
            self.desk.end()
            self.server.server_close()

    def end(self) -> None:
        """Stop answering."""
        self.server.shutdown()


def _free(port: int) -> bool:
    """Whether a port may be had; werkzeug would leave with words of its own when it may not."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as tried:
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind((HOME, port))
    except (OSError, OverflowError):
        return False
    return True


def serve(path: Path, port: int = 0, *, browser: bool = True) -> None:
    """Serve one job file on this machine, open the browser on it, and end with Ctrl-C."""
    serving = Serving(path, port)
    if serving.begun:
        print(f"New job file: {path}")
    print(f"The desk is open at {serving.key_address}")
    print("That address lets one browser in, once. Ctrl-C ends it; the file is written at every change.", flush=True)

    def show() -> None:
        if browser:
            threading.Thread(target=lambda: webbrowser.open(serving.key_address), daemon=True).start()

    with suppress(KeyboardInterrupt):
        serving.serve(show)
    print("Ended.")
