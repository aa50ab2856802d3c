"""Who may ask the desk anything: this machine's browser with the key, on this page, at a bounded rate and size."""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from werkzeug.exceptions import (
    Forbidden,
    HTTPException,
    MisdirectedRequest,
    RequestEntityTooLarge,
    ServiceUnavailable,
    TooManyRequests,
    UnsupportedMediaType,
)
from werkzeug.wrappers import Request, Response

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

MOST_BYTES = 1_500_000  # a job file is 1 MB at most
A_SECOND, AT_ONCE = 40.0, 160.0  # requests
AT_A_TIME = 12
SAFE = ("GET", "HEAD")
Answer = Callable[[Request], Response]


class Guard:
    """A WSGI application that lets only its own page through to another.

    Parameters
    ----------
    answer : callable
        Request to response.
    hosts : iterable of str
        Names with port the server answers to; nothing else may stand in ``Host``.
    clock : callable
        Seconds, for the rate.

    Attributes
    ----------
    key : str
        The word in the address that lets a browser in, once.
    """

    def __init__(self, answer: Answer, hosts: Iterable[str], clock: Callable[[], float] = time.monotonic) -> None:
        self._answer = answer
        self.hosts = tuple(hosts)
        self.key = secrets.token_urlsafe(32)
        self._pass = secrets.token_urlsafe(32)
        self._used = False
        self._lock = threading.Lock()
        self._clock = clock
        self._left, self._at = AT_ONCE, clock()
        self._room = threading.BoundedSemaphore(AT_A_TIME)

    @property
    def cookie(self) -> str:
        """Name of the cookie: one for each port, for browsers keep one jar for all of them."""
        return f"fabplan-{self.hosts[0].rpartition(':')[2]}"

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer one request."""
        request = Request(environ)
        request.max_content_length = MOST_BYTES
        request.max_form_memory_size = 0
        try:
            if not self._room.acquire(blocking=False):
                raise ServiceUnavailable
            try:
                response = self._let_in(request)
            finally:
                self._room.release()
        except HTTPException as refused:
            response = Response(f"{refused.code} {refused.name}\n", status=refused.code, mimetype="text/plain")
        return self._closed(response)(environ, start_response)

    def _let_in(self, request: Request) -> Response:
        self._rate()
        self._from_here(request)
        if request.content_length is not None and request.content_length > MOST_BYTES:
            raise RequestEntityTooLarge
        if request.path == "/" and request.method == "GET" and "key" in request.args:
            return self._first(request.args["key"])
        given = request.cookies.get(self.cookie, "")
        if not hmac.compare_digest(given.encode("utf-8", "replace"), self._pass.encode()):
            raise Forbidden
        if request.method not in SAFE and request.mimetype != "application/json":
            raise UnsupportedMediaType
        return self._answer(request)

    def _rate(self) -> None:
        with self._lock:
            now = self._clock()
            self._left = min(AT_ONCE, self._left + (now - self._at) * A_SECOND)
            self._at = now
            if self._left < 1:
                raise TooManyRequests
            self._left -= 1

    def _from_here(self, request: Request) -> None:
        """Refuse what another machine, or another page of this browser, asks."""
        host = request.headers.get("Host", "")
        if host not in self.hosts:
            raise MisdirectedRequest
        origin = request.headers.get("Origin")
        if origin is not None and origin != f"http://{host}":
            raise Forbidden
        if request.method not in SAFE and origin is None:
            raise Forbidden
        if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
            raise Forbidden

    def _first(self, key: str) -> Response:
        """Take the key, once: from then on the cookie lets in."""
        with self._lock:
            right = hmac.compare_digest(key.encode("utf-8", "replace"), self.key.encode()) and not self._used
            if not right:
                raise Forbidden
            self._used = True
        response = Response(status=303, headers={"Location": "/"})
        response.set_cookie(self.cookie, self._pass, httponly=True, samesite="Strict", path="/")
        return response

    @staticmethod
    def _closed(response: Response) -> Response:
        """The answer with what keeps a browser from taking it anywhere else."""
        headers = response.headers
        headers.setdefault("Content-Security-Policy", policy())
        headers["X-Content-Type-Options"] = "nosniff"
        headers["X-Frame-Options"] = "DENY"
        headers["Referrer-Policy"] = "no-referrer"
        headers["Cross-Origin-Opener-Policy"] = "same-origin"
        headers["Cross-Origin-Resource-Policy"] = "same-origin"
        headers["Cache-Control"] = "no-store"
        return response


def policy(nonce: str = "") -> str:
    """Content policy: our own script and style, our own answers, nothing else; one inline style by its nonce."""
    style = f"'self' 'nonce-{nonce}'" if nonce else "'self'"
    return (
        f"default-src 'none'; script-src 'self'; style-src {style}; connect-src 'self'; img-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
