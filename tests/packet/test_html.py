"""The screen version: self-contained, safe, and it remembers."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import packet_sample
import pytest

from fabplan.packet.build import build_packet
from fabplan.packet.html import html_file
from fabplan.packet.model import Packet, Page, Para, Table, Tile

BROWSER = shutil.which("chromium") or shutil.which("google-chrome") or shutil.which("chromium-browser")


class Reader(HTMLParser):
    """Collects the elements of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))


@pytest.fixture(scope="module")
def page(packet: Packet) -> str:
    return html_file(packet).decode()


@pytest.fixture(scope="module")
def elements(page: str) -> list[tuple[str, dict[str, str | None]]]:
    reader = Reader()
    reader.feed(page)
    return reader.seen


def test_nothing_is_fetched(page: str, elements: list[tuple[str, dict[str, str | None]]]) -> None:
    for tag, attributes in elements:
        assert tag not in ("link", "iframe", "object", "embed", "img", "base", "form", "image", "use"), tag
        for name, value in attributes.items():
            if name in ("src", "href", "xlink:href", "action"):
                assert (value or "").startswith("#"), (tag, name, value)
            assert not name.startswith("on"), (tag, name)
    assert [a.get("http-equiv") for t, a in elements if t == "meta"].count("Content-Security-Policy") == 1
    assert "url(" not in page
    assert len(page) < 1_000_000


def test_one_script_and_one_style_let_in_by_hash(page: str, elements: list[tuple[str, dict[str, str | None]]]) -> None:
    assert sum(tag == "script" for tag, _ in elements) == 1
    policy = next(a["content"] for t, a in elements if a.get("http-equiv"))
    assert policy is not None
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in policy


def test_landmarks_headings_and_labels(elements: list[tuple[str, dict[str, str | None]]]) -> None:
    tags = [tag for tag, _ in elements]
    for landmark in ("header", "nav", "main", "footer"):
        assert tags.count(landmark) == 1
    assert tags.count("h1") == 1
    levels = [int(tag[1]) for tag in tags if re.fullmatch(r"h[1-6]", tag)]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    ids = [a["id"] for _, a in elements if "id" in a]
    assert len(ids) == len(set(ids))
    boxes = [n for n, (t, _) in enumerate(elements) if t == "input"]
    assert boxes
    for n in boxes:  # each in a label of its own, with words or a name
        assert elements[n - 1][0] == "label"
        assert "aria-label" in elements[n][1] or elements[n + 1][0] == "span"
    drawings = [a for t, a in elements if t == "svg"]
    assert drawings
    assert all(a.get("role") == "img" and (a.get("aria-label") or "").strip() for a in drawings)
    targets = {(a["href"] or "")[1:] for t, a in elements if t == "a"}
    assert targets <= set(ids)


def test_sheet_drawings_scroll_instead_of_shrinking(page: str) -> None:
    assert "svg.least-900{min-width:900px}" in page
    assert page.count('class="least-900"') == 3


def test_templates_stay_out(packet: Packet) -> None:
    first = next(b for p in packet.pages if p.kind == "blank" for b in p.blocks if hasattr(b, "drawing"))
    tile = Page(key="t-1", kind="template", title="Row 1", blocks=(Tile(picture=first),), on_screen=False)
    made = html_file(replace(packet, pages=(*packet.pages, tile))).decode()
    assert 'id="t-1"' not in made


@pytest.mark.parametrize(
    "name",
    ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "a & b", "</title><b>", "javascript:alert(1)"],
)
def test_job_text_is_only_text(name: str) -> None:
    made = packet_sample.plan(name=name, number=name, revision=name)
    reader = Reader()
    reader.feed(html_file(build_packet(made)).decode())
    assert sum(tag == "script" for tag, _ in reader.seen) == 1
    assert not any(tag in ("img", "b") and "src" in a for tag, a in reader.seen)
    assert not any(key.startswith("on") for _, a in reader.seen for key in a)


def test_fractions_are_copied_as_written(page: str) -> None:
    plain = re.sub(r"<[^>]+>", "", re.sub(r"<(style|script|svg).*?</\1>", "", page, flags=re.S))
    assert "14\u202f1⁄32" in plain


def test_same_packet_same_bytes(packet: Packet, page: str) -> None:
    assert html_file(packet).decode() == page


def test_an_empty_packet_still_is_a_page() -> None:
    bare = Packet(
        number="1",
        name="n",
        revision="",
        date="",
        paper="letter",
        pages=(Page(key="a", kind="cover", title="t", blocks=(Para(text="x"), Table(name="t", columns=(), rows=()))),),
    )
    assert b"<main" in html_file(bare)


# In a real browser ------------------------------------------------------------------------------------------------


def browse(page: Path, profile: Path, *more: str) -> str:
    """The page's elements after its script ran."""
    command = [
        str(BROWSER),
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        f"--user-data-dir={profile}",
        *more,
        "--dump-dom",
        page.as_uri(),
    ]
    return subprocess.run(command, capture_output=True, text=True, timeout=90, check=True).stdout


def with_probe(page: str, script: str) -> str:
    """The page without its policy and with one more script, which leaves its finding in the title."""
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    return page.replace("</body>", f"<script>document.title = String((function () {{ {script} }})());</script></body>")


def title_of(dom: str) -> str:
    found = re.search(r"<title>(.*?)</title>", dom, re.S)
    return found.group(1) if found else ""


browser = pytest.mark.skipif(BROWSER is None, reason="no Chromium here")


@browser
def test_its_own_script_is_let_in(page: str, tmp_path: Path) -> None:
    path = tmp_path / "plan.html"
    path.write_text(page, encoding="utf-8")
    dom = browse(path, tmp_path / "profile")
    button = re.search(r'<button[^>]*id="clear"[^>]*>', dom)
    assert button is not None
    assert "hidden" not in button.group()


@browser
@pytest.mark.slow
def test_ticks_are_remembered_by_job_and_revision(page: str, tmp_path: Path) -> None:
    box = 'document.querySelector("#bend-1 input")'
    path, profile = tmp_path / "plan.html", tmp_path / "profile"
    path.write_text(with_probe(page, f"{box}.click(); return {box}.checked;"), encoding="utf-8")
    assert title_of(browse(path, profile)) == "true"
    path.write_text(with_probe(page, f"return {box}.checked;"), encoding="utf-8")
    assert title_of(browse(path, profile)) == "true"
    other = html_file(build_packet(packet_sample.plan(revision="3"))).decode()
    path.write_text(with_probe(other, f"return {box}.checked;"), encoding="utf-8")
    assert title_of(browse(path, profile)) == "false"


@browser
@pytest.mark.slow
@pytest.mark.parametrize("width", [390, 1024])
def test_the_page_itself_never_scrolls_sideways(page: str, tmp_path: Path, width: int) -> None:
    # A frame of the exact width: a headless window has a least width of its own.
    inner = tmp_path / "plan.html"
    inner.write_text(with_probe(page, "return document.documentElement.scrollWidth;"), encoding="utf-8")
    escaped = inner.read_text(encoding="utf-8").replace("&", "&amp;").replace('"', "&quot;")
    frame = with_probe(
        f'<!DOCTYPE html><html><head><title></title></head><body><iframe id="f" width="{width}" height="800" '
        f'style="border:0" srcdoc="{escaped}">'
        "</iframe></body></html>",
        "var f = document.getElementById('f'); f.onload = function () { document.title = "
        "String(f.contentDocument.documentElement.scrollWidth - f.contentDocument.documentElement.clientWidth); }; "
        "return '';",
    )
    outer = tmp_path / "frame.html"
    outer.write_text(frame, encoding="utf-8")
    told = title_of(browse(outer, tmp_path / "profile", "--virtual-time-budget=4000"))
    assert told == "0"


def test_slimmed_drawings_keep_their_words_and_looks() -> None:
    from fabplan.packet.slim import Looks

    looks = Looks()
    plain = '<path d="M1.2345 2L3 4" fill="none" stroke="#000" stroke-width="0.5"/><text x="1" font-size="3.175" '
    plain += 'font-weight="bold">stroke="#000" fill="none" 1.2345</text>'
    slim = looks.slim(plain)
    assert slim == '<path class=k0 d="M1.23 2l1.77 2"/><text x=1 class=k1>stroke="#000" fill="none" 1.2345</text>'
    assert looks.style() == ".k0{fill:none;stroke:#000;stroke-width:0.5}\n.k1{font-size:3.175px;font-weight:bold}"
    assert looks.slim(plain) == slim


def test_lines_from_point_to_point_end_where_they_ended() -> None:
    from fabplan.packet.slim import _relative

    # Worked by hand: 10.04 and 20.06 to one decimal are 10 and 20.1; the moves add up to them.
    assert _relative("M10.04 20.06L11.5 20.06L11.5 30L9.25 5.5Z", 1) == "M10 20.1h1.5v9.9l-2.3-24.5z"
    assert _relative("M1 1L2 2M3 3L2.5 4", 2) == "M1 1l1 1m1 1l-.5 1"
    assert _relative("M1 1L2 2ZM3 3L4 4", 2) == "M1 1l1 1zM3 3l1 1"


def test_lines_of_one_look_are_joined_but_filled_shapes_are_not() -> None:
    from fabplan.packet.slim import Looks

    line = '<path d="M{0} 0L{0} 1" fill="none" stroke="#000"/>\n'
    filled = '<path d="M{0} 0L{0} 1Z" fill="#fff"/>\n'
    slim = Looks().slim("".join(p.format(n) for p in (line, filled) for n in (1, 2)))
    assert slim == ('<path class=k0 d="M1 0v1M2 0v1"/><path class=k1 d="M1 0v1z"/><path class=k1 d="M2 0v1z"/>\n')
