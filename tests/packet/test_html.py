"""The screen version: self-contained, safe, and it remembers."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import packet_sample
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.packet.model import Packet, Page, Para, Picture, Table, Tile, flat
from fabplan.packet.output.files import drawings_of
from fabplan.packet.output.html import html_file
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.small_svg import Looks, relative
from fabplan.plotter.model import Drawing, Line, Mark, Shape, Text

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
        assert tag not in ("link", "iframe", "object", "embed", "img", "base", "form", "image"), tag
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
    first = next(b for p in packet.pages if p.kind == "piece" for b in flat(p.blocks) if isinstance(b, Picture))
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
    box = 'document.querySelector("section.page input")'
    path, profile = tmp_path / "plan.html", tmp_path / "profile"
    path.write_text(with_probe(page, f"{box}.click(); return {box}.checked;"), encoding="utf-8")
    assert title_of(browse(path, profile)) == "true"
    path.write_text(with_probe(page, f"return {box}.checked;"), encoding="utf-8")
    assert title_of(browse(path, profile)) == "true"
    other = html_file(build_packet(packet_sample.plan(revision="3"))).decode()
    path.write_text(with_probe(other, f"return {box}.checked;"), encoding="utf-8")
    assert title_of(browse(path, profile)) == "false"


PROBE = """
var d = f.contentDocument, w = f.contentWindow, found = [];
if (d.documentElement.scrollWidth > d.documentElement.clientWidth) { found.push("scrolls sideways"); }
var targets = d.querySelectorAll("a[href], button, label, summary");
for (var i = 0; i < targets.length; i++) {
  var box = targets[i].getBoundingClientRect();
  if (!box.width || targets[i].className === "skip") { continue; }
  if (box.height < 43.5 || box.width < 43.5) {
    var size = Math.round(box.width) + "x" + Math.round(box.height);
    found.push(targets[i].tagName + " " + size + " " + targets[i].textContent.slice(0, 20));
  }
}
function bench() { return d.querySelector('#now [data-station="STATION"] .next'); }
var first = bench().getAttribute("href"), picture = bench().querySelector("svg");
if (!picture && d.querySelector(first + " svg")) { found.push("no picture of what is next"); }
var boxes = d.querySelectorAll(first + " input");
for (var b = 0; b < boxes.length; b++) { boxes[b].click(); }
var card = bench().parentNode;
var all = /Every box/.test(card.textContent);
if (bench().getAttribute("href") === first && !all) { found.push("a ticked sheet stays next"); }
d.querySelector('.only [data-only="STATION"]').click();
var shown = d.querySelectorAll("section.page");
for (var p = 0; p < shown.length; p++) {
  var there = shown[p].getBoundingClientRect().height > 0;
  if (there !== (shown[p].getAttribute("data-station") === "STATION")) { found.push("shown: " + shown[p].id); }
}
document.title = found.join("; ") || "right";
"""


def framed(page: str, width: int, script: str, folder: Path) -> str:
    """What `script` says of the page in a frame `f` so many pixels wide: a window has a least width of its own."""
    escaped = with_probe(page, "return '';").replace("&", "&amp;").replace('"', "&quot;")
    frame = with_probe(
        f'<!DOCTYPE html><html><head><title></title></head><body><iframe id="f" width="{width}" height="800" '
        f'style="border:0" srcdoc="{escaped}">'
        "</iframe></body></html>",
        f"var f = document.getElementById('f'); f.onload = function () {{ {script} }}; return '';",
    )
    outer = folder / "frame.html"
    outer.write_text(frame, encoding="utf-8")
    return title_of(browse(outer, folder / "profile", "--virtual-time-budget=4000"))


@browser
@pytest.mark.parametrize(
    "width", [pytest.param(320, marks=pytest.mark.slow), 390, pytest.param(820, marks=pytest.mark.slow)]
)
def test_what_now_on_a_phone_and_a_tablet(page: str, tmp_path: Path, width: int) -> None:
    for station in ("shear", "bench") if width == 820 else ("shear",):
        assert framed(page, width, PROBE.replace("STATION", station), tmp_path) == "right"


# Drawings on the screen --------------------------------------------------------------------------------------------


def screen_words(painted: str) -> Counter[str]:
    """Every text of a painted drawing, as often as it is shown."""
    quoted = re.sub(r"(?<= )([a-z-]+)=([^ >\"/]+)", r'\1="\2"', painted)
    root = ElementTree.fromstring(f"<svg>{quoted}</svg>")
    once = {t.get("id"): "".join(t.itertext()) for t in root.iter("text") if t.get("id")}
    shown = ["".join(t.itertext()) for t in root.iter("text") if not t.get("id")]
    return Counter(shown + [once[(u.get("href") or "")[1:]] for u in root.iter("use")])


def test_screen_drawings_keep_every_word(packet: Packet) -> None:
    looks = Looks()
    for drawing in drawings_of(packet):
        words = Counter(m.text for m in drawing.marks if isinstance(m, Text))
        assert screen_words(looks.paint(drawing)) == words, drawing.name
    assert set(re.findall(r"[:;](#\w+)", looks.style())) == {"#000", "#fff"}


def one_drawing(*marks: Mark) -> Drawing:
    return Drawing(name="d", title="t", width=200.0, height=10.0, marks=marks)


def test_white_covers_what_came_before_and_nothing_that_came_after() -> None:
    def line(x: float) -> Line:
        return Line(points=((x, 0), (x, 5)), pen="edge")

    box = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))
    black = Text(at=(3, 3), text="under", size=9)
    late = Text(at=(3, 3), text="over", size=9)
    white = Shape(points=box, pen=None, fill="white")
    looks = Looks()
    painted = looks.paint(
        one_drawing(line(1), black, line(2), Shape(points=box, pen=None, fill="white"), line(3), late)
    )
    white = next(name for rule in looks.style().split("\n") for name in [rule[1:3]] if "fill:#fff}" in rule)
    before, after = painted.split(f"<path class={white} ")
    assert "under" in before and "M10 100v-50m10 50v-50" in before  # two lines of one look, one path
    assert "over" in after and "M30 100v-50" in after


def test_areas_side_by_side_share_a_path_and_those_that_overlap_do_not() -> None:
    def box(x: float) -> Shape:
        return Shape(points=((x, 0), (x + 5, 0), (x + 5, 5), (x, 5)), pen="edge", fill="white")

    assert Looks().paint(one_drawing(box(0), box(5), box(10))).count("<path") == 1
    assert Looks().paint(one_drawing(box(0), box(4), box(10))).count("<path") == 2


@given(
    st.lists(
        st.tuples(
            st.lists(st.tuples(st.integers(-99, 99), st.integers(-99, 99)), min_size=2, max_size=6), st.booleans()
        ),
        min_size=1,
        max_size=4,
    )
)
def test_paths_read_back_to_the_points_they_were_made_of(lines: list[tuple[list[tuple[int, int]], bool]]) -> None:
    read: list[list[tuple[int, int]]] = []
    x = y = 0
    command = ""
    for letter, body in re.findall(r"([MmlhvzL])([^MmlhvzL]*)", relative(lines)):
        numbers = [int(n) for n in re.findall(r"-?\d+", body)]
        command = letter
        if command == "z":
            x, y = read[-1][0]
        elif command in "hv":
            x, y = (x + numbers[0], y) if command == "h" else (x, y + numbers[0])
            read[-1].append((x, y))
        else:
            for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
                x, y = (dx, dy) if command == "M" else (x + dx, y + dy)
                if command in "Mm":
                    read.append([(x, y)])
                else:
                    read[-1].append((x, y))
    for (points, _), got in zip(lines, read, strict=True):
        assert got == [points[0], *(b for a, b in pairwise(points) if a != b)] or len(set(points)) == 1
