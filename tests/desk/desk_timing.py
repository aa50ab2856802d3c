"""How long the desk takes, beside `fabplan check`: ``python tests/desk/desk_timing.py JOB [rounds]``.

Start: from the command to the first page answered. Keystroke: a changed field to the answer with faults and picture,
over the wire. Slope: a changed field to the slope's new picture. Each round measures all, so that a busy machine is as
busy for one as for the other.

``python tests/desk/desk_timing.py --pictures JOB ...``: processor seconds from a changed field to all pictures of its
form as HTML, of every piece, slope and line of stock, in one process; the median of five changes each.
"""

from __future__ import annotations

import http.client
import json
import pickle
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from fabplan.desk.app import App
from fabplan.desk.desk import Desk
from fabplan.desk.document import Document
from fabplan.desk.work import Looker

PAUSE = 6.0  # seconds between two changes of a slope: what follows the picture has ended


class Line:
    """A plain client with the desk's cookie."""

    def __init__(self, address: str) -> None:
        self.host, _, key = address.removeprefix("http://").partition("/?")
        self.cookie = ""
        answer = self.ask("GET", f"/?{key}")
        self.cookie = answer.headers["Set-Cookie"].split(";")[0]

    def ask(self, method: str, path: str, data: object = None) -> http.client.HTTPResponse:
        line = http.client.HTTPConnection(self.host, timeout=60)
        headers = {"Host": self.host, "Origin": f"http://{self.host}", "Cookie": self.cookie}
        body = None if data is None else json.dumps(data)
        line.request(method, path, body, headers | ({"Content-Type": "application/json"} if body else {}))
        answer = line.getresponse()
        answer.text = answer.read().decode()  # type: ignore[attr-defined]
        return answer

    def page(self, at: str = "") -> str:
        return str(self.ask("GET", f"/?at={at}").text)  # type: ignore[attr-defined]

    def order(self, what: str, data: object) -> dict[str, object]:
        return dict(json.loads(self.ask("POST", f"/{what}", data).text))  # type: ignore[attr-defined]


def one_round(job: Path, names: tuple[str, str], typed: tuple[str, str]) -> dict[str, float]:
    """Seconds of each thing, once."""
    found: dict[str, float] = {}
    began = time.perf_counter()
    subprocess.run([sys.executable, "-m", "fabplan", "check", str(job)], check=True, stdout=subprocess.DEVNULL)
    found["check"] = time.perf_counter() - began
    began = time.perf_counter()
    run = subprocess.Popen(
        [sys.executable, "-m", "fabplan", "open", "--no-browser", str(job)], stdout=subprocess.PIPE, text=True
    )
    assert run.stdout is not None
    address = ""
    while not address:
        match = re.search(r"http://\S+", run.stdout.readline())
        address = match[0] if match else ""
    line = Line(address)
    line.page()
    found["start"] = time.perf_counter() - began
    try:
        version = re.search(r'data-version="(\w+)"', line.page(names[0].rpartition(".")[0]))
        assert version
        spent = []
        for n in range(9):
            began = time.perf_counter()
            answer = line.order("try", {"at": names[0].rpartition(".")[0], "name": names[0], "text": typed[n % 2],
                                        "version": version[1]})  # fmt: skip
            spent.append(time.perf_counter() - began)
            assert answer["ok"] and "<svg" in str(answer["board"])
        found["first keystroke"], found["keystroke"] = spent[0], median(spent[3:])
        line.page(names[1].rpartition(".")[0])
        pictures = []
        for n in range(3):
            began = time.perf_counter()
            answer = line.order("try", {"at": names[1].rpartition(".")[0], "name": names[1], "text": f"{n + 1} in",
                                        "version": version[1]})  # fmt: skip
            seen = -1
            while True:
                asked = f"/whole?serial={answer['serial']}&seen={seen}&at=slope.0"
                known = json.loads(line.ask("GET", asked).text)  # type: ignore[attr-defined]
                if known.get("pictures"):
                    break
                seen = known["seen"]
            pictures.append(time.perf_counter() - began)
            time.sleep(PAUSE)
        found["slope"] = min(pictures[1:])
    finally:
        run.send_signal(signal.SIGINT)
        run.wait(10)
    return found


class AtOnce:
    """A hand that draws a slope's first pictures where it is told to, and does nothing else."""

    def __init__(self, kind: str, heard: Callable[[Any], None]) -> None:
        self.kind, self.heard = kind, heard
        self.looker = Looker()

    def order(self, *order: Any) -> None:
        if self.kind == "slope":
            self.heard(pickle.loads(pickle.dumps(next(self.looker.slope(*pickle.loads(pickle.dumps(order)))))))


CHANGED: dict[str, Callable[[int], tuple[str, Any]]] = {
    "piece": lambda n: ("note", f"note {n}"),
    "slope": lambda n: ("count", n),
    "stock": lambda n: ("on_hand", n),
}


def pictures(job: Path) -> dict[str, list[tuple[float, str]]]:
    """Processor seconds of the pictures of each table's forms, with the form's name."""
    desk = Desk(Document(job, str(job)), hand=AtOnce)  # type: ignore[arg-type]
    views = App(desk).views
    found: dict[str, list[tuple[float, str]]] = {}
    data = desk.document.data() or {}
    for table, changed in CHANGED.items():
        for n, entry in enumerate(data.get(table, ())):
            spent = []
            for change in range(7):
                key, value = changed(2 + change)
                began = time.process_time()
                text = desk.with_value((table, n, key), value)
                answer = views.answer(desk.check(text, (table, n)), (table, n))
                drawn = answer["board"]
                if table == "slope":
                    drawn += views.whole(answer["serial"], f"{table}.{n}")["pictures"] or ""
                spent.append(time.process_time() - began)
            name = str(entry.get("mark") or entry.get("name"))
            if "<svg" in drawn:
                found.setdefault(table, []).append((median(spent[2:]), name))
    return found


def main() -> None:
    if sys.argv[1] == "--pictures":
        for name in sys.argv[2:]:
            for table, times in pictures(Path(name)).items():
                worst = max(times)
                print(
                    f"{name}: {table}: {len(times)} forms, median {median(t for t, _ in times):.3f} s, "
                    f"most {worst[0]:.3f} s ({worst[1]})"
                )
        return
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "job"
        shutil.copytree(Path(sys.argv[1]).parent, job)
        path = job / Path(sys.argv[1]).name
        rounds = [
            one_round(path, ("piece.0.hem", "slope.0.eave_drop"), ("3/4 in", "13/16 in"))
            for _ in range(int(sys.argv[2]) if len(sys.argv) > 2 else 3)
        ]
    for key in rounds[0]:
        values = [r[key] for r in rounds]
        shares = [r[key] / r["check"] for r in rounds]
        print(f"{key:16} least {min(values):.2f} s, median {median(values):.2f} s, of check {median(shares):.1%}")


if __name__ == "__main__":
    main()
