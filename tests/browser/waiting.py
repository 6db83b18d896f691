"""Waiting for what no element shows."""

from __future__ import annotations

import time
from typing import Any

from playwright.sync_api import Page, Worker

# As long as an expectation waits: pages are slow beside a whole run of tests.
PATIENCE = 60.0


def until(where: Page | Worker, asked: str, arg: object = None) -> Any:
    """The first answer to ``asked``, a function of JavaScript, that is true there; also where it is async.

    ``wait_for_function`` takes an async function's promise for a true answer."""
    end = time.monotonic() + PATIENCE
    while not (answer := where.evaluate(asked, arg)):
        assert time.monotonic() < end, f"not within {PATIENCE:.0f} s: {asked}"
        time.sleep(0.05)
    return answer
