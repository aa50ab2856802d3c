"""Nobody gets in but the page's own browser, and nothing of the job becomes more than text. Each way in is tried."""

from __future__ import annotations

import http.client
import json
import re
import socket
import threading
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from desk_asker import HOST, ORIGIN, PORCH, Asker
from werkzeug.test import Client

from fabplan.desk.guard import A_SECOND, AT_ONCE, MOST_BYTES
from fabplan.desk.serve import HOME, Serving


@pytest.fixture
def locked(tmp_path: Path) -> Asker:
    return Asker(tmp_path / "porch.toml", PORCH)


ADDRESSES = ["/", "/?at=piece.0", "/own/desk.js", "/own/screen.css", "/whole?serial=1", "/state", "/plan",
             "/pages/shear", "/shear.pdf", "/no-such"]  # fmt: skip


@pytest.mark.parametrize("address", ADDRESSES)
def test_without_the_cookie_there_is_nothing(locked: Asker, address: str) -> None:
    answer = locked.get(address)
    assert answer.status_code == 403
    assert "Porch" not in answer.text


@pytest.mark.parametrize("what", ["try", "set", "add", "drop", "text", "back", "again", "begin", "stop", "group"])
def test_nor_is_anything_written(locked: Asker, what: str) -> None:
    answer = locked.client.post(f"/{what}", base_url=ORIGIN, json={}, headers={"Origin": ORIGIN})
    assert answer.status_code == 403
    assert locked.text == PORCH


def test_the_key_lets_in_once(locked: Asker) -> None:
    assert locked.get("/?key=wrong").status_code == 403
    first = locked.get(f"/?key={locked.guard.key}")
    assert (first.status_code, first.headers["Location"]) == (303, "/")
    assert locked.get("/").status_code == 200
    other = Client(locked.guard)
    assert other.get(f"/?key={locked.guard.key}", base_url=ORIGIN).status_code == 403
    assert len(locked.guard.key) >= 40


def test_the_cookie_stays_on_this_site_and_out_of_scripts(locked: Asker) -> None:
    cookie = locked.get(f"/?key={locked.guard.key}").headers["Set-Cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie and "Path=/" in cookie and "Domain" not in cookie
    assert locked.guard.key not in cookie
    assert locked.guard.cookie == "fabplan-4000"  # one for each port


HOSTS = ["evil.example:4000", "127.0.0.1:4001", "127.0.0.1", "[::1]:4000", "", "localhost:4000"]
ORIGINS = ["http://evil.example", "null", "http://127.0.0.1:4001", "https://127.0.0.1:4000", ""]


@pytest.mark.parametrize("host", HOSTS)
def test_another_name_for_this_machine_is_refused(porch: Asker, host: str) -> None:
    assert porch.get("/", Host=host).status_code == 421


@pytest.mark.parametrize("origin", ORIGINS)
def test_another_page_s_request_is_refused(porch: Asker, origin: str) -> None:
    asked = {"version": porch.desk.document.version, "at": "job", "name": "job.name", "text": "Evil"}
    answer = porch.client.post("/set", base_url=ORIGIN, json=asked, headers={"Origin": origin})
    assert answer.status_code == 403
    assert porch.get("/state", Origin=origin).status_code == 403
    assert porch.text == PORCH


def test_a_change_needs_an_origin_and_json(porch: Asker) -> None:
    assert porch.client.post("/back", base_url=ORIGIN, json={}).status_code == 403
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"):
        answer = porch.client.post("/back", base_url=ORIGIN, data=b"{}", content_type=kind, headers={"Origin": ORIGIN})
        assert answer.status_code == 415, kind
    assert porch.get("/set").status_code == 405
    assert porch.get("/", **{"Sec-Fetch-Site": "cross-site"}).status_code == 403


def test_no_answer_is_for_another_origin_or_a_frame(porch: Asker) -> None:
    for address in (*ADDRESSES, "/?key=x"):
        headers = porch.get(address).headers
        assert not any(name.lower().startswith("access-control") for name, _ in headers), address
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy, address
        assert "unsafe" not in policy and "*" not in policy and "http" not in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert headers["Cache-Control"] == "no-store"
    answer = porch.client.options("/set", base_url=ORIGIN, headers={"Origin": "http://evil.example"})
    assert answer.status_code == 403
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_style_is_let_in_by_a_word_of_its_own(porch: Asker) -> None:
    found = [re.search(r"nonce-([\w-]+)", porch.get("/").headers["Content-Security-Policy"]) for _ in range(2)]
    assert found[0] and found[1] and found[0][1] != found[1][1]


PATHS = ["/own/../desk.py", "/own/%2e%2e%2fdesk.py", "/own/..%2f..%2fcli.py", "/own/desk.py", "/own//etc/passwd",
         "/own/base.html", "/pages/../shear.pdf", "/pages/%2e%2e", "/../porch.toml", "/porch.toml"]  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_no_file_is_served_but_ours(porch: Asker, path: str) -> None:
    assert porch.get(path).status_code in (404, 308)


OUTSIDE = ["../other.toml", "/etc/passwd", "/etc/x.toml", "a/../../b.toml", "~/x.toml", "..\\x.toml"]


@pytest.mark.parametrize("name", OUTSIDE)
@pytest.mark.parametrize("field", ["shop", "metal.use", "piece.0.metal"])
def test_no_field_leads_out_of_the_folder(porch: Asker, name: str, field: str) -> None:
    (porch.path.parent.parent / "other.toml").write_text("[job]\nbatch = 3\n", encoding="utf-8")
    at, _, key = field.rpartition(".")
    for what in ("try", "set"):
        assert not porch.set(at or "job", key, name, what=what)["ok"]
    assert "batch = 3" not in porch.get("/?at=job").text
    whole = PORCH.replace("[job]", f"shop = '{name}'\n[job]", 1)
    assert not porch.post("text", at="", text=whole)["ok"]
    assert porch.text == PORCH


def test_a_link_out_of_the_folder_is_no_way_out(porch: Asker) -> None:
    (porch.path.parent.parent / "other.toml").write_text("[job]\nbatch = 3\n", encoding="utf-8")
    (porch.path.parent / "link.toml").symlink_to(porch.path.parent.parent / "other.toml")
    assert not porch.set("job", "shop", "link.toml")["ok"]
    assert porch.text == PORCH


def test_what_the_file_names_already_stays(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("[job]\nbatch = 3\n", encoding="utf-8")
    (tmp_path / "in").mkdir()
    asker = Asker(tmp_path / "in" / "job.toml", 'shop = "../shop.toml"\n' + PORCH).enter()
    assert asker.set("job", "name", "Other")["ok"]
    assert "The shop file says 3." in asker.get("/?at=job").text


def test_too_large_and_too_many_are_refused(porch: Asker) -> None:
    large = porch.client.post(
        "/text", base_url=ORIGIN, data=b"x" * (MOST_BYTES + 1), content_type="application/json",
        headers={"Origin": ORIGIN},
    )  # fmt: skip
    assert large.status_code == 413
    codes = [porch.client.get("/state", base_url=ORIGIN).status_code for _ in range(int(AT_ONCE) + 5)]
    assert codes[0] == 200 and codes[-1] == 429
    porch.now += 2 / A_SECOND
    assert porch.client.get("/state", base_url=ORIGIN).status_code == 200


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"3", b"{", b'{"text": 3, "version": 4}', b"[" * 100_000, b'{"version": null}', b"\xff\xfe"]
)
def test_what_is_no_order_is_refused(porch: Asker, body: bytes) -> None:
    for what in ("set", "add", "drop", "text", "group"):
        answer = porch.client.post(
            f"/{what}", base_url=ORIGIN, data=body, content_type="application/json", headers={"Origin": ORIGIN}
        )
        assert answer.status_code == 400 or not answer.get_json()["ok"]
        porch.now += 1
    assert porch.text == PORCH


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


WORDS = ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</textarea><script>1</script>", "a & b 'c'",
         "{{ 7 * 7 }}", "</title><b onclick=1>", "javascript:alert(1)"]  # fmt: skip


@pytest.mark.parametrize("words", WORDS)
def test_text_of_a_job_is_only_text(tmp_path: Path, words: str) -> None:
    said = json.dumps(words)
    text = PORCH.replace('"Porch roof"', said).replace('mark = "A"', f"mark = {said}").replace('"coil 24"', said)
    text = text.replace('number = "7"', f"number = {said}\nnote_x = {said}").replace("count = 12", f"note = {said}")
    asker = Asker(tmp_path / "job.toml", text + f"# {words}\n").enter()
    for at in ("job", "piece", "piece.0", "stock", "stock.0", "text", "plan", "metal"):
        page = asker.get(f"/?at={at}").text
        reader = Reader()
        reader.feed(page)
        scripts = [attrs for tag, attrs in reader.tags if tag == "script"]
        assert [a.get("src") for a in scripts] == ["/own/desk.js"], at
        assert not any(tag == "img" or (tag == "b" and "onclick" in a) for tag, a in reader.tags), at
        assert not any(key.startswith("on") for _, a in reader.tags for key in a), at
        assert "49" not in re.sub(r"[\d-]*49[\d-]+|[\d-]+49", "", page) or "{{" not in words
    answer = asker.set("piece.0", "note", f"{words} again")
    reader = Reader()
    reader.feed(answer["board"] + answer["told"])
    assert not any(tag in ("script", "img") or any(k.startswith("on") for k in a) for tag, a in reader.tags)


# On a real line ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def serving(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Serving]:
    path = tmp_path_factory.mktemp("line") / "porch.toml"
    path.write_text(PORCH, encoding="utf-8")
    found = Serving(path)
    threading.Thread(target=found.server.serve_forever, args=(0.05,), daemon=True).start()
    yield found
    found.end()
    found.server.server_close()


def test_this_machine_only(serving: Serving) -> None:
    assert serving.server.socket.getsockname()[0] == HOME == "127.0.0.1"
    mine = socket.gethostbyname(socket.gethostname())
    if mine != HOME and not mine.startswith("127."):
        with pytest.raises(OSError):
            socket.create_connection((mine, serving.server.port), timeout=1)


def test_a_line_that_is_no_request_is_dropped(serving: Serving) -> None:
    for sent in (b"\0" * 200, b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", b"GET /" + b"a" * 70_000 + b" HTTP/1.1\r\n\r\n"):
        with socket.create_connection((HOME, serving.server.port), timeout=5) as line:
            line.sendall(sent)
            line.shutdown(socket.SHUT_WR)
            said = line.recv(1 << 16)
            assert b" 200 " not in said and b"Porch" not in said
    line = http.client.HTTPConnection(HOME, serving.server.port, timeout=5)
    line.request("GET", "/state", headers={"Host": f"{HOME}:{serving.server.port}"})
    assert line.getresponse().status == 403
    assert HOST not in serving.address
