"""The Chromium that tests drive: one that no longer answers is ended, and the next test gets another.

Playwright waits without an end for some answers, such as for a context to be closed. In some thousands of
contexts Chromium now and then gives none, and the whole run would wait with it.
"""

from __future__ import annotations

import os
import shutil
import signal
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from types import TracebackType
from typing import Any, cast

from playwright.sync_api import Browser, Playwright

# No test may reach beyond this machine, and the browser's own housekeeping would try.
FLAGS = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-gpu",
    "--disable-quic",
)
# The processes of every Chromium that runs.
_running: set[int] = set()


def launch_chromium(playwright: Playwright, *flags: str) -> Browser:
    """A Chromium of its own that reaches nothing beyond this machine: ``$CHROMIUM``, the distribution's, or
    playwright's. ``flags``: further ones.

    Its headless shell if there is one: the same engine without windows around the pages, which cost more than
    most pages do."""
    return _launched(playwright, ("chromium-headless-shell", "chromium", "chromium-browser"), flags)


def launch_whole_chromium(playwright: Playwright) -> Browser:
    """The same with everything that a browser has beside its pages, such as notifications."""
    return _launched(playwright, ("chromium", "chromium-browser"), (), channel="chromium")


def _launched(
    playwright: Playwright, names: Sequence[str], flags: Sequence[str], channel: str | None = None
) -> Browser:
    path = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, names)), None)
    # Chromium refuses to run its sandbox as root, which is who CI often is.
    as_root = ["--no-sandbox"] if os.geteuid() == 0 else []
    browser = playwright.chromium.launch(
        executable_path=path, channel=channel, args=[*FLAGS, *as_root, *flags]
    )
    pid = process_of(browser)
    _running.add(pid)
    browser.on("disconnected", lambda _: _running.discard(pid))
    return browser


def process_of(browser: Browser) -> int:
    """The id of the browser's own process, beside those of its pages."""
    session = browser.new_browser_cdp_session()
    ask = cast(Callable[[str], dict[str, list[dict[str, Any]]]], session.send)  # pyright: ignore[reportUnknownMemberType]
    processes = ask("SystemInfo.getProcessInfo")["processInfo"]
    session.detach()
    [pid] = [each["id"] for each in processes if each["type"] == "browser"]
    return pid


class Lasting:
    """A browser, as playwright's, that is launched anew once it was ended."""

    def __init__(self, launch: Callable[[], Browser]) -> None:
        self._launch = launch
        self._browser: Browser | None = None

    def __getattr__(self, name: str) -> Any:
        if self._browser is None or not self._browser.is_connected():
            self._browser = self._launch()
        return getattr(self._browser, name)


class Watch:
    """Ends every Chromium of this process if what it watches over takes longer than ``seconds``.

    What still waits for an answer then raises playwright's ``Error``. ``ended``: whether it came to that."""

    def __init__(self, seconds: float) -> None:
        self.ended = False
        self._timer = threading.Timer(seconds, self._end)
        self._timer.daemon = True

    def __enter__(self) -> Watch:
        self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._timer.cancel()

    def _end(self) -> None:
        self.ended = True
        for pid in tuple(_running):
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
