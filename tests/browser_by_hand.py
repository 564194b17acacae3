"""A real browser for tests: Chromium without a window, spoken to over its DevTools pipe.

The protocol's messages are JSON with a zero byte after each, on file descriptors 3 and 4
(--remote-debugging-pipe): no socket and no further package is needed. Not on Windows.
"""

import base64
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")
PATIENCE_S = 60.0


class Page:
    """One page in a browser."""

    def __init__(self, asked: int, told: int) -> None:
        self._asked, self._told, self._number, self._session = asked, told, 0, ""
        self._rest = b""
        self.events: list[dict[str, Any]] = []

    def ask(self, method: str, **params: Any) -> dict[str, Any]:
        """Send a command and return its result."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._asked, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._read()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                result: dict[str, Any] = answer["result"]
                return result
            self.events.append(answer)

    def open(self, path: Path) -> None:
        """Open a file and wait until it is loaded."""
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        attached = self.ask("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Network", "Log", "Runtime"):
            self.ask(f"{domain}.enable")
        self.ask("Page.navigate", url=path.as_uri())
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._read())

    def run(self, script: str) -> Any:
        """Run a script in the page and return its value."""
        done = self.ask(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True
        )
        assert "exceptionDetails" not in done, done
        return done["result"].get("value")

    def type_into(self, selector: str, text: str) -> None:
        """Put the text into a field, as from a keyboard."""
        self.run(f"document.querySelector({json.dumps(selector)}).select()")
        self.ask("Input.insertText", text=text)

    def click(self, selector: str) -> None:
        """Click into the middle of an element with the mouse."""
        x, y = self.run(
            f"(() => {{ const e = document.querySelector({json.dumps(selector)});"
            "e.scrollIntoView({block: 'center'}); const b = e.getBoundingClientRect();"
            "return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )
        at = {"x": x, "y": y, "button": "left", "clickCount": 1}
        self.ask("Input.dispatchMouseEvent", type="mousePressed", **at)
        self.ask("Input.dispatchMouseEvent", type="mouseReleased", **at)

    def screenshot(self) -> bytes:
        """Return what is seen, as PNG."""
        return base64.b64decode(self.ask("Page.captureScreenshot")["data"])

    def _read(self) -> dict[str, Any]:
        """Read one message."""
        while b"\0" not in self._rest:
            more = os.read(self._told, 1 << 16)
            assert more, "the browser is gone"
            self._rest += more
        message, self._rest = self._rest.split(b"\0", 1)
        answer: dict[str, Any] = json.loads(message)
        return answer


@contextmanager
def browser(folder: Path, *, width: int = 1200, height: int = 900) -> Iterator[Page]:
    """Start a browser; skip the test where there is none."""
    found = next((path for path in map(shutil.which, NAMES) if path), None)
    if found is None or sys.platform == "win32":
        pytest.skip(f"no {', '.join(NAMES)} here, or no pipe to it: apt install chromium")
    to_browser, from_browser = os.pipe(), os.pipe()
    words = [
        *("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars"),
        *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
        f"--user-data-dir={folder}",
        f"--window-size={width},{height}",
        "--remote-debugging-pipe",
    ]
    # The shell puts the two ends on 3 and 4, where the browser looks for them.
    ends = f"3<&{to_browser[0]} 4>&{from_browser[1]}"
    process = subprocess.Popen(
        ["/bin/bash", "-c", f'exec "$@" {ends}', "browser", found, *words],
        pass_fds=(to_browser[0], from_browser[1]),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    os.close(to_browser[0])
    os.close(from_browser[1])
    page = Page(to_browser[1], from_browser[0])
    try:
        yield page
    finally:
        process.kill()
        process.wait(PATIENCE_S)
        os.close(to_browser[1])
        os.close(from_browser[0])
