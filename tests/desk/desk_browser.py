"""A headless Chromium driven over its own wire (the DevTools protocol), with the standard library alone."""

from __future__ import annotations

import base64
import json
import os
import shutil
import socket
import struct
import subprocess
import time
import urllib.request
from pathlib import Path
from typing import Any

BROWSER = shutil.which("chromium") or shutil.which("google-chrome") or shutil.which("chromium-browser")
WAIT = 30.0


class Wire:
    """One WebSocket to a page, as RFC 6455 says: masked text frames out, text frames in."""

    def __init__(self, address: str) -> None:
        host, _, path = address.removeprefix("ws://").partition("/")
        name, _, port = host.partition(":")
        self.sock = socket.create_connection((name, int(port)), timeout=WAIT)
        key = base64.b64encode(os.urandom(16)).decode()
        self.sock.sendall(
            f"GET /{path} HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        self.rest = b""
        while b"\r\n\r\n" not in self.rest:
            self.rest += self.sock.recv(4096)
        self.rest = self.rest.split(b"\r\n\r\n", 1)[1]

    def send(self, text: str) -> None:
        data = text.encode()
        mask = os.urandom(4)
        size = len(data)
        head = bytes([0x81])
        if size < 126:
            head += bytes([0x80 | size])
        elif size < 65536:
            head += bytes([0x80 | 126]) + struct.pack(">H", size)
        else:
            head += bytes([0x80 | 127]) + struct.pack(">Q", size)
        whole = (data + b"\0" * (-size % 4), mask * (size // 4 + 1))
        masked = (int.from_bytes(whole[0], "big") ^ int.from_bytes(whole[1][: len(whole[0])], "big")).to_bytes(
            len(whole[0]), "big"
        )
        self.sock.sendall(head + mask + masked[:size])

    def _take(self, n: int) -> bytes:
        while len(self.rest) < n:
            got = self.sock.recv(1 << 16)
            if not got:
                raise ConnectionError("the browser hung up")
            self.rest += got
        out, self.rest = self.rest[:n], self.rest[n:]
        return out

    def receive(self) -> str:
        out = b""
        while True:
            first, second = self._take(2)
            size = second & 0x7F
            if size == 126:
                size = struct.unpack(">H", self._take(2))[0]
            elif size == 127:
                size = struct.unpack(">Q", self._take(8))[0]
            out += self._take(size)
            if first & 0x80:
                return out.decode()


class Page:
    """A tab: go somewhere, run a line of script, press keys; it writes down what went wrong in the console."""

    def __init__(self, wire: Wire) -> None:
        self.wire = wire
        self.last = 0
        self.faults: list[str] = []
        self.asked: list[str] = []
        self.dialogs = 0
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        self.last += 1
        number = self.last
        self.wire.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            said = json.loads(self.wire.receive())
            if said.get("id") == number:
                if "error" in said:
                    raise RuntimeError(f"{method}: {said['error']}")
                return dict(said.get("result", {}))
            self._heard(said)

    def _heard(self, said: dict[str, Any]) -> None:
        method, params = said.get("method", ""), said.get("params", {})
        if method == "Runtime.exceptionThrown":
            self.faults.append(str(params["exceptionDetails"]))
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning"):
            self.faults.append(str(params["args"]))
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            self.faults.append(f"{params['entry']['text']} {params['entry'].get('url', '')}")
        elif method == "Network.requestWillBeSent":
            self.asked.append(params["request"]["url"])
        elif method == "Page.javascriptDialogOpening":
            self.dialogs += 1
            self.last += 1
            accept = {"id": self.last, "method": "Page.handleJavaScriptDialog", "params": {"accept": True}}
            self.wire.send(json.dumps(accept))

    def run(self, script: str) -> Any:
        """The value of an expression in the page."""
        got = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in got:
            raise RuntimeError(f"{script}: {got['exceptionDetails']}")
        return got["result"].get("value")

    def until(self, script: str, seconds: float = WAIT) -> Any:
        """Wait until an expression is true."""
        end = time.monotonic() + seconds
        while True:
            try:
                found = self.run(f"!!({script})")
            except RuntimeError:  # the page is just being replaced
                found = None
            if found:
                return found
            if time.monotonic() > end:
                raise AssertionError(f"waited {seconds} s in vain for {script}")
            time.sleep(0.03)

    def go(self, url: str) -> None:
        self.run("window.old = 1")
        self.call("Page.navigate", url=url)
        self.until("!window.old && document.readyState === 'complete'")

    def wide(self, width: int, height: int = 900) -> None:
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def press(self, key: str, *, shift: bool = False) -> None:
        codes = {
            "Tab": 9,
            "Enter": 13,
            " ": 32,
            "ArrowDown": 40,
            "ArrowUp": 38,
            "Home": 36,
            "End": 35,
            "Escape": 27,
            "Delete": 46,
        }
        code = codes.get(key, 0)
        modifiers = 8 if shift else 0
        text = {"Enter": "\r", " ": " "}.get(key, "")
        common = {"key": key, "windowsVirtualKeyCode": code, "modifiers": modifiers}
        self.call("Input.dispatchKeyEvent", type="keyDown" if text else "rawKeyDown", text=text, **common)
        self.call("Input.dispatchKeyEvent", type="keyUp", **common)

    def type(self, text: str) -> None:
        """Type into what has the focus, in place of what is marked."""
        self.call("Input.insertText", text=text)

    def picture(self, path: Path, *, whole: bool = True) -> None:
        got = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(got["data"]))


class Chromium:
    """A headless browser with a profile of its own and no network but this machine."""

    def __init__(self, profile: Path) -> None:
        assert BROWSER is not None
        self.process = subprocess.Popen(
            [
                BROWSER, "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-quic",
                "--disable-background-networking", "--disable-component-update", "--disable-sync",
                "--disable-default-apps", "--disable-extensions", "--mute-audio", "--hide-scrollbars",
                "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
                "--remote-debugging-port=0", f"--user-data-dir={profile}", "about:blank",
            ],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        told = profile / "DevToolsActivePort"
        end = time.monotonic() + WAIT
        while not (told.is_file() and len(told.read_text().split()) > 1):
            assert time.monotonic() < end, "the browser did not start"
            assert self.process.poll() is None, "the browser ended"
            time.sleep(0.05)
        self.port = int(told.read_text().split()[0])

    def page(self) -> Page:
        """The first tab."""
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/json/list", timeout=WAIT) as answer:
            tabs = json.loads(answer.read())
        return Page(Wire(next(t["webSocketDebuggerUrl"] for t in tabs if t["type"] == "page")))

    def end(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(5)
