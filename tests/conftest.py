"""Fixtures that tests of several folders share: a real Chromium, a phone's page, servers to talk to."""

from __future__ import annotations

import gc
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import cast

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

from tests.chromium import Lasting, Watch, launch_chromium, launch_whole_chromium
from tests.served import Running, Static, Warm

PHONE = {"width": 360, "height": 800}
# Many times what the longest test with a browser takes, and what comes after one.
TEST_SECONDS = 240
AFTER_SECONDS = 60


def pytest_configure() -> None:
    """Looking for cycles as often as Python does would be a fifth of what tests of the server cost."""
    gc.set_threshold(100_000, 50, 100)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests without a browser first: playwright keeps an event loop in its thread until the end of the
    run, and no ``asyncio.run`` works beside it. So the two kinds of one file are handed out apart.

    Of those with a browser the twins go first and one by one: they take longest, and all that they share is a
    blank page. Left to the end, one core would wait for the other."""

    def is_twin(item: pytest.Item) -> bool:
        return item.path.parent.name == "engine" and _drives_a_browser(item)

    items.sort(key=lambda item: (_drives_a_browser(item), not is_twin(item)))
    for item in items:
        kind = "browser" if _drives_a_browser(item) else "plain"
        part = item.name if is_twin(item) else kind
        item.add_marker(pytest.mark.xdist_group(f"{item.path.stem} {part}"))


def _drives_a_browser(item: pytest.Item) -> bool:
    return "playwright_" in getattr(item, "fixturenames", ())


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """A test whose browser no longer answers fails where it waits, and holds up no other."""
    if not _drives_a_browser(item):
        return (yield)
    with Watch(TEST_SECONDS):
        return (yield)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item: pytest.Item) -> Generator[None]:
    """A browser that does not close what a test has opened is ended and told of: the test itself is done."""
    if not _drives_a_browser(item):
        return (yield)
    with Watch(AFTER_SECONDS) as watch:
        try:
            yield
        except BaseException as error:
            if not watch.ended:
                raise
            waited_for = str(error).partition(":")[0]
            item.warn(pytest.PytestWarning(f"{waited_for} had no answer after {item.nodeid}"))


@pytest.fixture(scope="session")
def playwright_() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def chromium(playwright_: Playwright) -> Iterator[Browser]:
    """One Chromium for the whole run; each test opens contexts of its own in it."""
    browser = cast(Browser, Lasting(lambda: launch_chromium(playwright_)))
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def whole_chromium(playwright_: Playwright) -> Iterator[Browser]:
    """For what the headless shell has not: notifications, and its judgement of what can be installed."""
    browser = cast(Browser, Lasting(lambda: launch_whole_chromium(playwright_)))
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
def module_pages() -> list[Page]:
    """The one page of ``module_page``."""
    return []


@pytest.fixture
def module_page(chromium: Browser, static_site: str, module_pages: list[Page]) -> Page:
    """A blank page of ``static_site``, for ``page.evaluate`` with ``await import("/web/engine/...")``; the
    same for all tests, so that its modules are loaded once."""
    if not module_pages or module_pages[-1].is_closed():
        module_pages.append(chromium.new_page())
        module_pages[-1].goto(static_site + "/tests/blank.html")
    return module_pages[-1]


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
