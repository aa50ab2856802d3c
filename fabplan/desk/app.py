"""The desk's pages and answers: one thin function an address."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable
from importlib.resources import files
from typing import Any

from werkzeug.exceptions import BadRequest, HTTPException, NotFound
from werkzeug.routing import Map, Rule
from werkzeug.wrappers import Request, Response

from fabplan.desk.desk import CheckedText, Desk, entries
from fabplan.desk.document import StaleError
from fabplan.desk.fields import every, value_of
from fabplan.desk.guard import policy
from fabplan.desk.view import Views, parse_path
from fabplan.errors import FabplanError, JobError, visible
from fabplan.job.lines import Path
from fabplan.job.merge import ARRAYS

Reply = dict[str, Any]


class App:
    """Answers requests that the guard let through."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.views = Views(desk)
        self._map = Map(
            [
                Rule("/", endpoint=self.page, methods=["GET"]),
                Rule("/pages/<station>", endpoint=self.pages, methods=["GET"]),
                Rule("/shear.pdf", endpoint=self.shear_pdf, methods=["GET"]),
                Rule("/own/<name>", endpoint=self.own, methods=["GET"]),
                Rule("/whole", endpoint=self.whole, methods=["GET"]),
                Rule("/state", endpoint=self.state, methods=["GET"]),
                Rule("/plan", endpoint=self.plan_state, methods=["GET"]),
                *(Rule(f"/{name}", endpoint=self._change(do), methods=["POST"]) for name, do in self._changes()),
            ]
        )

    def __call__(self, request: Request) -> Response:
        """Answer one request."""
        adapter = self._map.bind_to_environ(request.environ)
        endpoint, values = adapter.match()
        response: Response = endpoint(request, **values)
        return response

    # -- pages --------------------------------------------------------------------------------------------------------

    def page(self, request: Request) -> Response:
        """The page, open at a table."""
        nonce = secrets.token_urlsafe(16)
        return _html(self.views.page(request.args.get("at", ""), nonce), nonce)

    def pages(self, _request: Request, station: str) -> Response:
        """The packet's pages of a station."""
        nonce = secrets.token_urlsafe(16)
        found = self.views.station(station, nonce)
        if found is None:
            raise NotFound
        return _html(found, nonce)

    def shear_pdf(self, _request: Request) -> Response:
        """The shear's pages as they are printed."""
        made = self.desk.run.made
        if made is None or not made.shear:
            raise NotFound
        response = Response(made.shear, mimetype="application/pdf")
        response.headers["Content-Disposition"] = 'inline; filename="shear.pdf"'
        response.headers["Content-Security-Policy"] = "default-src 'none'; object-src 'self'; frame-ancestors 'none'"
        return response

    def own(self, _request: Request, name: str) -> Response:
        """A style or script of ours, by its name in a fixed list."""
        found = _OWN.get(name)
        if found is None:
            raise NotFound
        package, kind = found
        return Response((files(package) / name).read_bytes(), content_type=kind)

    # -- answers ------------------------------------------------------------------------------------------------------

    def whole(self, request: Request) -> Response:
        """What is known so far of the job looked at last."""
        serial, seen = (request.args.get(key, default=-1, type=int) for key in ("serial", "seen"))
        return _json(self.views.whole(serial, request.args.get("at", ""), seen))

    def state(self, request: Request) -> Response:
        """Whether another program changed the file."""
        return _json({"changed": [visible(row) for row in self.desk.document.changed_outside()]})

    def plan_state(self, _request: Request) -> Response:
        """How far the plan is."""
        return _json(self.views.run())

    def _changes(self) -> tuple[tuple[str, Callable[[Reply], Reply]], ...]:
        return (
            ("try", self._try), ("set", self._set), ("add", self._add), ("drop", self._drop), ("group", self._group),
            ("text", self._text), ("back", self._back), ("again", self._again), ("begin", self._begin),
            ("stop", self._stop),
        )  # fmt: skip

    def _change(self, do: Callable[[Reply], Reply]) -> Callable[..., Response]:
        def answer(request: Request) -> Response:
            try:
                asked = json.loads(request.get_data())
            except (ValueError, RecursionError):
                raise BadRequest from None
            if not isinstance(asked, dict):
                raise BadRequest
            with self.desk.document.lock:
                try:
                    return _json({"ok": True, **do(asked)})
                except StaleError as stale:
                    return _json({"ok": False, "stale": True, "say": str(stale)})
                except FabplanError as fault:
                    return _json({"ok": False, "say": visible(_said(fault))})
                except HTTPException:
                    raise

        return answer

    def _field_text(self, asked: Reply) -> tuple[str, Path]:
        """The text that a typed field makes."""
        self.desk.document.check_version(_text(asked, "version"))
        here = parse_path(_text(asked, "at"))
        name = _text(asked, "name")
        field = next((f for f in every(self.views.fields(here)) if f.name == name), None)
        if field is None:
            raise BadRequest
        return self.desk.with_value(field.path, value_of(field, _text(asked, "text"))), here

    def _try(self, asked: Reply) -> Reply:
        text, here = self._field_text(asked)
        self.desk.document.refuse_outside(text)
        return self.views.answer(self.desk.check(text, here), here)

    def _set(self, asked: Reply) -> Reply:
        text, here = self._field_text(asked)
        return self._written(text, here)

    def _written(self, text: str, here: Path) -> Reply:
        self.desk.document.write(text)
        checked: CheckedText = self.desk.check(text, here)
        return self.views.answer(checked, here)

    def _add(self, asked: Reply) -> Reply:
        document = self.desk.document
        document.check_version(_text(asked, "version"))
        table, name = _text(asked, "table"), _text(asked, "name").strip()
        if table not in ARRAYS:
            raise BadRequest
        like = asked.get("like")
        values = {ARRAYS[table]: name} if name else {}
        what = _text(asked, "what")
        if like is None and what:
            key = {"piece": "kind", "stock": "form", "slope": "shape"}.get(table, "")
            values |= {key: what} if key else {}
        if not name:
            raise JobError(f"give the new {table.replace('_', ' ')} a {ARRAYS[table]}")
        text = self.desk.with_entry(table, values, like if isinstance(like, int) else None)
        document.write(text)
        number = like + 1 if isinstance(like, int) else len(entries(document.data(), table)) - 1
        return {"go": f"/?at={table}.{number}"}

    def _drop(self, asked: Reply) -> Reply:
        document = self.desk.document
        document.check_version(_text(asked, "version"))
        here = parse_path(_text(asked, "at"))
        if len(here) != 2 or not isinstance(here[1], int):
            raise BadRequest
        document.write(self.desk.without_entry(str(here[0]), here[1]))
        return {"go": f"/?at={here[0]}"}

    def _group(self, asked: Reply) -> Reply:
        """Begin or take out one of several groups of keys."""
        document = self.desk.document
        document.check_version(_text(asked, "version"))
        here, path = parse_path(_text(asked, "at")), parse_path(_text(asked, "name"))
        if path[: len(here)] != here or len(path) < 2 or not isinstance(path[-1], int):
            raise BadRequest
        document.write(self.desk.with_value(path, {} if asked.get("begin") else None))
        return {"go": f"/?at={'.'.join(map(str, here))}"}

    def _text(self, asked: Reply) -> Reply:
        document = self.desk.document
        document.check_version(_text(asked, "version"))
        here = parse_path(_text(asked, "at"))
        document.write(self.desk.with_table(here, _text(asked, "text")))
        return {"go": f"/?at={'.'.join(map(str, here)) or 'text'}"}

    def _back(self, asked: Reply) -> Reply:
        self.desk.document.check_version(_text(asked, "version"))
        self.desk.document.step_back()
        return {"go": ""}

    def _again(self, asked: Reply) -> Reply:
        self.desk.document.read_again()
        return {"go": ""}

    def _begin(self, asked: Reply) -> Reply:
        self.desk.plan()
        return self.views.run()

    def _stop(self, asked: Reply) -> Reply:
        self.desk.stop()
        return self.views.run()


_OWN = {
    "desk.css": ("fabplan.desk.pages", "text/css; charset=utf-8"),
    "desk.js": ("fabplan.desk.pages", "text/javascript; charset=utf-8"),
    "icon.svg": ("fabplan.desk.pages", "image/svg+xml"),
    "screen.css": ("fabplan.packet.output", "text/css; charset=utf-8"),
    "screen.js": ("fabplan.packet.output", "text/javascript; charset=utf-8"),
}


def _said(fault: FabplanError) -> str:
    return str(fault)


def _text(asked: Reply, key: str) -> str:
    value = asked.get(key, "")
    if not isinstance(value, str):
        raise BadRequest
    return value


def _html(text: str, nonce: str) -> Response:
    response = Response(text, mimetype="text/html")
    response.headers["Content-Security-Policy"] = policy(nonce)
    return response


def _json(data: Any) -> Response:
    return Response(json.dumps(data, ensure_ascii=True), mimetype="application/json")
