"""A Chromium that no longer answers holds up one test at most, and no run."""

from __future__ import annotations

import os
import signal
from typing import cast

import pytest
from playwright.sync_api import Browser, Error, Playwright

from tests.chromium import Lasting, Watch, launch_chromium, process_of


def test_one_that_no_longer_answers_is_ended_and_another_takes_its_place(playwright_: Playwright) -> None:
    browser = cast(Browser, Lasting(lambda: launch_chromium(playwright_)))
    page = browser.new_page()
    os.kill(process_of(browser), signal.SIGSTOP)
    with Watch(1) as watch, pytest.raises(Error):
        page.context.close()
    assert watch.ended
    assert page.is_closed()
    assert browser.new_page().evaluate("1 + 1") == 2
    browser.close()


def test_what_is_done_in_time_is_left_alone(playwright_: Playwright) -> None:
    browser = launch_chromium(playwright_)
    with Watch(60) as watch:
        browser.new_page().close()
    assert not watch.ended
    assert browser.is_connected()
    browser.close()
