"""A planner at home: the Desk's pages in a browser of either width, and what any of them must hold to."""

from __future__ import annotations

from collections.abc import Generator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, ViewportSize, expect

from tests.browser.shopper import PATIENCE
from tests.kitchen import fill
from tests.served import Running, Warm

WIDE: ViewportSize = {"width": 1200, "height": 900}
NARROW: ViewportSize = {"width": 360, "height": 800}
NARROWEST: ViewportSize = {"width": 320, "height": 640}


def kitchen(data: Path) -> Running:
    """A running server over the household of ``tests/kitchen.py``, as of today."""
    # Playwright keeps an event loop in this thread, beside which none other runs.
    with ThreadPoolExecutor(1) as thread:
        thread.submit(fill, data, datetime.now(UTC).date().isoformat()).result()
    return Warm(data).start()


@contextmanager
def planner(
    chromium: Browser, server: Running, viewport: ViewportSize = WIDE, **options: Any
) -> Generator[Page]:
    """A page of the server in a context of its own; a fault in a script fails the test."""
    context = chromium.new_context(
        base_url=server.url,
        viewport=viewport,
        locale="en-US",
        timezone_id="UTC",
        reduced_motion="reduce",
        **options,
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    expect.set_options(timeout=PATIENCE)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    # A form that is turned down answers 400, which the browser tells as a resource that did not load.
    page.on(
        "console",
        lambda told: (
            faults.append(told.text)
            if told.type == "error" and "the server responded" not in told.text
            else None
        ),
    )
    yield page
    context.close()
    assert faults == []


def too_small(page: Page) -> list[str]:
    """Buttons, fields and links outside of running text that a thumb would miss (44 px; WCAG 2.2, 2.5.5)."""
    return page.evaluate(
        """() => [...document.querySelectorAll(
                "main button, main input:not([type=hidden]), main select, main summary, main .within a")]
            .filter((each) => each.checkVisibility() && !each.closest(".tick"))
            .filter((each) => each.getBoundingClientRect().height < 43.5)
            .map((each) => each.outerHTML.slice(0, 80))"""
    )


def cut_off(page: Page) -> list[str]:
    """What reaches beyond the page's width, but for what scrolls by itself."""
    return page.evaluate(
        """() => document.documentElement.scrollWidth <= innerWidth ? [] :
            [...document.querySelectorAll("main *")]
                .filter((each) => !each.closest(".wide, .unseen"))
                .filter((each) => each.getBoundingClientRect().right > innerWidth + 1)
                .map((each) => each.outerHTML.slice(0, 80))"""
    )
