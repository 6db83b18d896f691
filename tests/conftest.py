"""Fixtures that tests of several folders share: a real Chromium, a phone's page, servers to talk to."""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

from tests.served import Running, Static, Warm

# No test may reach beyond this machine, and the browser's own housekeeping would try.
CHROMIUM_FLAGS = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-gpu",
    "--disable-quic",
)
PHONE = {"width": 360, "height": 800}


def pytest_configure() -> None:
    """Looking for cycles as often as Python does would be a fifth of what tests of the server cost."""
    gc.set_threshold(100_000, 50, 100)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests without a browser first: playwright keeps an event loop in its thread until the end of the
    run, and no ``asyncio.run`` works beside it. So the two kinds of one file are handed out apart.

    Of those with a browser the twins go first and one by one: they take longest, and all that they share is a
    blank page. Left to the end, one core would wait for the other."""

    def drives_a_browser(item: pytest.Item) -> bool:
        return "playwright_" in getattr(item, "fixturenames", ())

    def is_twin(item: pytest.Item) -> bool:
        return item.path.parent.name == "engine" and drives_a_browser(item)

    items.sort(key=lambda item: (drives_a_browser(item), not is_twin(item)))
    for item in items:
        kind = "browser" if drives_a_browser(item) else "plain"
        part = item.name if is_twin(item) else kind
        item.add_marker(pytest.mark.xdist_group(f"{item.path.stem} {part}"))


@pytest.fixture(scope="session")
def playwright_() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


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
    return playwright.chromium.launch(
        executable_path=path, channel=channel, args=[*CHROMIUM_FLAGS, *as_root, *flags]
    )


@pytest.fixture(scope="session")
def chromium(playwright_: Playwright) -> Iterator[Browser]:
    """One Chromium for the whole run; each test opens contexts of its own in it."""
    browser = launch_chromium(playwright_)
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def whole_chromium(playwright_: Playwright) -> Iterator[Browser]:
    """For what the headless shell has not: notifications, and its judgement of what can be installed."""
    browser = launch_whole_chromium(playwright_)
    yield browser
    browser.close()


@pytest.fixture
def phone(chromium: Browser) -> Iterator[BrowserContext]:
    """A fresh phone: 360 x 800 with touch, nothing stored yet."""
    context = chromium.new_context(
        viewport={"width": PHONE["width"], "height": PHONE["height"]},
        device_scale_factor=2,
        has_touch=True,
        is_mobile=True,
        locale="en-US",
        timezone_id="UTC",
    )
    yield context
    context.close()


@pytest.fixture(scope="session")
def static_site() -> Iterator[str]:
    """The address of the checkout's files: ``/web/...`` as the real server has it, ``/tests/...``."""
    site = Static()
    yield site.url
    site.stop()


@pytest.fixture(scope="session")
def module_page(chromium: Browser, static_site: str) -> Iterator[Page]:
    """A blank page of ``static_site``, for ``page.evaluate`` with ``await import("/web/engine/...")``."""
    page = chromium.new_page()
    page.goto(static_site + "/tests/blank.html")
    yield page
    page.close()


@pytest.fixture
def running(tmp_path: Path) -> Iterator[Callable[..., Running]]:
    """Starts ``counterfoil`` servers that are stopped when the test ends.

    ``running()`` serves empty data; ``running(command="demo")`` the demo household."""
    servers: list[Running] = []

    def start(data: Path | None = None, command: str = "serve", port: int | None = None) -> Running:
        server = Warm(data or tmp_path / "data", command, port)
        servers.append(server)
        return server.start()

    yield start
    for server in servers:
        server.stop()
