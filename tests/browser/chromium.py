"""A headless Chromium that is asked over its DevTools pipe what it made of a page."""

from __future__ import annotations

import fcntl
import itertools
import json
import os
import select
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
OPTIONS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--remote-debugging-pipe"),
)
PATIENCE = 60.0
"""Seconds until a browser that says nothing has failed."""


def find_browser() -> str | None:
    """Path of a Chromium or a browser made from it; None where there is none."""
    return next(filter(None, map(shutil.which, NAMES)), None)


class Browser:
    """One tab. `events` are what the browser told of its own accord since the page was opened."""

    def __init__(self, write: int, read: int) -> None:
        self._write = write
        self._read = read
        self._held = b""
        self._numbers = itertools.count(1)
        self._session: dict[str, str] = {}
        self.events: list[dict[str, Any]] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = {"sessionId": attached["sessionId"]}
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Ask something and wait for the answer."""
        number = next(self._numbers)
        message = {"id": number, "method": method, "params": parameters, **self._session}
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == number:
                assert "error" not in answer, answer["error"]
                return answer["result"]
            self.events.append(answer)

    def open(self, path: Path, width: int = 1200, height: int = 900) -> None:
        """Open a file and wait until it is loaded."""
        self.events.clear()
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=False,
        )  # fmt: skip
        self.call("Page.navigate", url=path.resolve().as_uri())
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next())

    def ask(self, expression: str) -> Any:
        """Value of an expression of JavaScript in the page."""
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    @property
    def complaints(self) -> list[str]:
        """Errors and warnings that the page gave rise to."""
        found = []
        for event in self.events:
            what = event["params"]
            if event["method"] == "Runtime.exceptionThrown":
                found.append(str(what["exceptionDetails"].get("text")))
            elif event["method"] == "Log.entryAdded" and what["entry"]["level"] != "verbose":
                found.append(what["entry"]["text"])
            elif event["method"] == "Runtime.consoleAPICalled":
                found.append(f"console.{what['type']}")
        return found

    @property
    def requests(self) -> list[str]:
        """Addresses of everything that was fetched."""
        return [
            event["params"]["request"]["url"]
            for event in self.events
            if event["method"] == "Network.requestWillBeSent"
        ]

    def _next(self) -> dict[str, Any]:
        until = time.monotonic() + PATIENCE
        while b"\0" not in self._held:
            left = until - time.monotonic()
            ready, _, _ = select.select([self._read], [], [], max(left, 0.0))
            assert ready, "the browser says nothing"
            piece = os.read(self._read, 1 << 20)
            assert piece, "the browser has ended"
            self._held += piece
        message, _, self._held = self._held.partition(b"\0")
        found: dict[str, Any] = json.loads(message)
        return found


@contextmanager
def browser_at(program: str, profile: Path) -> Iterator[Browser]:
    """A browser that is there until the block ends."""
    to_read, to_write = os.pipe()
    from_read, from_write = os.pipe()
    # out of the way of 3 and 4, from which and to which the browser reads and writes
    high_read, high_write = (fcntl.fcntl(fd, fcntl.F_DUPFD, 20) for fd in (to_read, from_write))

    def place() -> None:
        os.dup2(high_read, 3)
        os.dup2(high_write, 4)

    process = subprocess.Popen(
        [program, *OPTIONS, f"--user-data-dir={profile}"],
        preexec_fn=place,  # noqa: PLW1509 - no thread of this process holds a lock here
        pass_fds=(3, 4),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(high_read)
    os.close(high_write)
    os.close(to_read)
    os.close(from_write)
    try:
        yield Browser(to_write, from_read)
    finally:
        os.close(to_write)  # the browser ends when its pipe does
        os.close(from_read)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
