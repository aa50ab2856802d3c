"""A desk to test: asked without processes for its slow work, or served to a real browser."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from desk_browser import Page
from werkzeug.test import Client, TestResponse

from fabplan.desk.app import App
from fabplan.desk.desk import Desk
from fabplan.desk.document import Document
from fabplan.desk.fields import Field
from fabplan.desk.guard import Guard
from fabplan.desk.hand import Hand
from fabplan.desk.serve import Serving
from fabplan.desk.view import Views, parse_path

HOST = "127.0.0.1:4000"
ORIGIN = f"http://{HOST}"

PORCH = """\
# The porch, as taped on Friday.
[job]
name = "Porch roof"   # on the lake side
number = "7"

[metal]
use = "copper-16oz"

# ---- shingles ----
[[piece]]
mark = "A"
kind = "diamond"
count = 12
side = "10 in"     # taped
hem = "3/4 in"

[[piece]]
mark = "D"
kind = "section"
count = 4
length = "48 in"
legs = ["3/4 in", "2-1/2 in", "3 in"]
bends = [90, -45]
end_hem = {width = "1/2 in", toward = "back"}

[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
"""


class Idle:
    """A hand that does nothing, and remembers what it was told."""

    def __init__(self, kind: str, heard: Callable[[Any], None]) -> None:
        self.kind, self.heard = kind, heard
        self.orders: list[Any] = []
        self.stopped = 0

    def tend(self) -> None:
        pass

    def want(self) -> None:
        pass

    def order(self, *order: Any) -> None:
        self.orders.append(order)

    def stop(self) -> None:
        self.stopped += 1

    def end(self) -> None:
        pass


class Asker:
    """Asks a desk as its own page would."""

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        path.write_text(text, encoding="utf-8", newline="")
        self.now = 0.0
        self.desk = Desk(Document(path, str(path)), hand=Idle)  # type: ignore[arg-type]
        self.guard = Guard(App(self.desk), [HOST], clock=lambda: self.now)
        self.client = Client(self.guard, use_cookies=True)

    def enter(self) -> Asker:
        assert self.get(f"/?key={self.guard.key}").status_code == 303
        return self

    def get(self, url: str, **headers: str) -> TestResponse:
        self.now += 1.0
        return self.client.get(url, base_url=ORIGIN, headers=headers)

    def post(self, what: str, **asked: Any) -> dict[str, Any]:
        asked.setdefault("version", self.desk.document.version)
        self.now += 1.0
        answer = self.client.post(f"/{what}", base_url=ORIGIN, json=asked, headers={"Origin": ORIGIN})
        assert answer.status_code == 200, answer.text
        return dict(json.loads(answer.data))

    def set(self, at: str, name: str, text: str, what: str = "set") -> dict[str, Any]:
        return self.post(what, at=at, name=f"{at}.{name}" if name != "shop" else name, text=text)

    def desk_fields(self, at: str) -> tuple[Field, ...]:
        """The fields of an open table."""
        return Views(self.desk).fields(parse_path(at))

    @property
    def text(self) -> str:
        return self.path.read_bytes().decode()


class Served:
    """A desk being served, with a tab on it."""

    def __init__(self, path: Path, tab: Page, hand: Any = Hand) -> None:
        self.path, self.tab = path, tab
        self.serving = Serving(path, hand=hand)
        threading.Thread(target=self.serving.server.serve_forever, args=(0.05,), daemon=True).start()
        tab.go("about:blank")  # the page before asks no more
        tab.faults.clear()
        tab.asked.clear()
        tab.wide(1400)
        tab.go(self.serving.key_address)

    def open(self, at: str) -> None:
        self.tab.go(f"{self.serving.address}?at={at}")

    def end(self) -> None:
        self.serving.end()
        self.serving.desk.end()
        self.serving.server.server_close()

    @property
    def text(self) -> str:
        return self.path.read_text(encoding="utf-8")

    def fill(self, name: str, text: str) -> None:
        """Put text into a field as a person does: the focus, what is there marked, typed over, left."""
        tab = self.tab
        quoted = json.dumps(f"i-{name}")
        kind = tab.run(f"document.getElementById({quoted}).tagName")
        tab.run(
            f"(e => {{ for (let d = e.closest('details'); d; d = d.parentElement.closest('details')) d.open = true; "
            f"e.focus(); if (e.select) e.select(); }})(document.getElementById({quoted}))"
        )
        if kind == "SELECT":
            tab.run(
                f"(e => {{ e.value = {json.dumps(text)}; e.dispatchEvent(new Event('change', {{bubbles: true}})); }})"
                f"(document.getElementById({quoted}))"
            )
            return
        if text:
            tab.type(text)
        else:
            tab.press("Delete")
        tab.run(f"document.getElementById({quoted}).blur()")

    def says(self, name: str) -> str:
        return str(self.tab.run(f"document.getElementById({json.dumps('fault-' + name)}).textContent.trim()"))

    def click(self, do: str, of: str = "") -> None:
        """Press a button and wait for the page that follows."""
        more = f"[data-of={json.dumps(of)}]" if of else ""
        self.tab.run(f"window.old = 1; document.querySelector({json.dumps(f'[data-do={do}]{more}')}).click()")
        try:
            self.tab.until("!window.old && document.readyState === 'complete'")
        except AssertionError:
            raise AssertionError(self.tab.run("document.getElementById('say').textContent")) from None
