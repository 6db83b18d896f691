"""How the phone's page holds its budgets: cold start, tap to repainted plan, and what a first visit costs.

    python -m tests.bench.phone_bench [TAPS]

A trip of 40 wants, 60 coupons, 8 rewards and 2 stores in a real Chromium at 4x CPU slowdown, with the
radio off once the page is kept. The slowdown reaches the page, not the workers: what the solver costs at 4x
is in ``plan_bench``. Transfer: the bytes of the precache list as they go over the wire, packed.
"""

from __future__ import annotations

import json
import sys
import tempfile
import urllib.request
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, CDPSession, Page, sync_playwright

from tests.bench.machine import machine, percentile, table
from tests.bench.week_sizes import week
from tests.browser.shopper import Shopper, bring_in
from tests.chromium import launch_chromium
from tests.conftest import PHONE
from tests.served import Running

SLOWDOWN = 4
STARTS = 8
TAPS = 30
BETWEEN_TAPS = 500  # milliseconds

# From a tap on a stub to the frame after the plan of it is in the page.
TAP = """() => new Promise((resolve) => {
    const stub = [...document.querySelectorAll('.ticket[data-state="to find"] .ticket-stub')].at(0);
    if (!stub) { resolve(null); return; }
    const began = performance.now();
    const ticket = stub.closest('.ticket');
    let line = 0;
    const look = () => {
        if (!line && ticket.dataset.state !== 'to find') line = performance.now() - began;
        const done = line && document.querySelector('.news[data-waiting=false]')
            && document.querySelector('.totals[data-replanning=complete]');
        if (done) resolve([line, performance.now() - began]);
        else requestAnimationFrame(look);
    };
    stub.click();
    requestAnimationFrame(look);
})"""

# First paint and first line of a cold start. The line is tapped at once; `answered` is when that is noted.
STARTED = """() => new Promise((resolve) => {
    const look = () => {
        const stub = document.querySelector('.ticket[data-state="to find"] .ticket-stub');
        if (!stub) { requestAnimationFrame(look); return; }
        const paint = performance.getEntriesByName('first-contentful-paint')[0];
        resolve([paint?.startTime ?? 0, performance.now()]);
        const nameOf = (within) => within.querySelector('.unseen').textContent;
        const product = nameOf(stub);
        window.answered = new Promise((noted) => {
            const answer = () => {
                const others = document.querySelectorAll('aisle-line .ticket:not([data-state="to find"])');
                if ([...others].some((ticket) => nameOf(ticket) === product)) noted(performance.now());
                else requestAnimationFrame(answer);
            };
            answer();
        });
        stub.click();
    };
    look();
})"""

# How many events the lines that are kept for the next start stand on; -1 where none are kept.
KEPT = """() => new Promise((resolve) => {
    const opening = indexedDB.open('counterfoil');
    opening.onsuccess = () => {
        const asked = opening.result.transaction('notes').objectStore('notes').get('shown');
        asked.onsuccess = () => {
            opening.result.close();
            resolve(asked.result ? Number(asked.result.basis.split(' ')[2]) : -1);
        };
    };
})"""


def slowed(phone: BrowserContext, page: Page) -> CDPSession:
    devtools = phone.new_cdp_session(page)
    devtools.send(  # pyright: ignore[reportUnknownMemberType]
        "Performance.enable", {"timeDomain": "threadTicks"}
    )
    devtools.send(  # pyright: ignore[reportUnknownMemberType]
        "Emulation.setCPUThrottlingRate", {"rate": SLOWDOWN}
    )
    return devtools


def transfer(url: str) -> str:
    """What the service worker fetches at the first visit, by folder, packed and plain."""
    with urllib.request.urlopen(f"{url}/precache.json") as answer:
        files = json.load(answer)["files"]
    sums: dict[str, list[int]] = {}
    for file in files:
        asked = urllib.request.Request(url + file["url"], headers={"Accept-Encoding": "gzip"})
        with urllib.request.urlopen(asked) as answer:
            packed = len(answer.read())
        parts = file["url"].split("/")
        folder = "/".join(parts[1:4] if parts[1:3] == ["web", "vendor"] else parts[1:3]) or "shell"
        for name in (folder if len(parts) > 3 else "shell", "in all"):
            row = sums.setdefault(name, [0, 0, 0])
            row[0] += 1
            row[1] += packed
            row[2] += file["bytes"]
    rows: list[tuple[object, ...]] = [
        (name, *row) for name, row in sorted(sums.items(), key=lambda item: item[1][1])
    ]
    return table(("folder", "files", "bytes packed", "bytes plain"), rows)


def main_thread(devtools: CDPSession) -> float:
    """Milliseconds of processor that the page's main thread has used so far."""
    answer: dict[str, list[dict[str, Any]]]
    answer = devtools.send("Performance.getMetrics")  # pyright: ignore[reportUnknownMemberType, reportUnknownVariableType]
    (seconds,) = [each["value"] for each in answer["metrics"] if each["name"] == "TaskDuration"]
    return seconds * 1000


def kept(page: Page, events: int) -> None:
    """Waits until the page has kept its first lines, as they are after so many events."""
    while page.evaluate(KEPT) != events:
        page.wait_for_timeout(50)


def starts(phone: BrowserContext, url: str) -> list[list[float]]:
    """First paint, first line, the main thread's work until then, and a tap on that line noted, of each
    cold start: a new page, no network. She rests before she closes the page."""
    measured: list[list[float]] = []
    for start in range(STARTS):
        page = phone.new_page()
        devtools = slowed(phone, page)
        page.goto(url, wait_until="commit")
        painted, line = page.evaluate(STARTED)
        used = main_thread(devtools)
        measured.append([painted, line, used, page.evaluate("answered")])
        kept(page, start + 1)
        page.close()
    return measured


def taps(shopper: Shopper, count: int) -> list[list[float]]:
    """Repainted line, and repainted plan, of each tap that puts a line into the trolley, the first as soon as
    there is one; the next when a hand could have gone to the next line."""
    slowed(shopper.phone, shopper.page)
    measured: list[list[float]] = []
    for tap in range(count):
        if tap > 0:
            shopper.page.wait_for_timeout(BETWEEN_TAPS)
        one = shopper.page.evaluate(TAP)
        if one is None:
            break
        measured.append(one)
    return measured


def in_percentiles(name: str, values: list[float], budget: str) -> tuple[object, ...]:
    return (name, len(values), *(f"{percentile(values, part):.0f}" for part in (0.5, 0.95, 1)), budget)


def main(count: int) -> None:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = Running(Path(folder) / "data").start()
        browser = launch_chromium(playwright)
        phone = browser.new_context(
            viewport={"width": PHONE["width"], "height": PHONE["height"]}, has_touch=True, is_mobile=True
        )
        try:
            bring_in(server.url, week(40, 60, 8, 2))
            shopper = Shopper(phone, server.url).open()
            shopper.keep_page()
            kept(shopper.page, 0)
            shopper.page.close()
            sizes = transfer(server.url)
            server.stop()
            phone.set_offline(True)
            cold = starts(phone, server.url)
            shopper = Shopper(phone, server.url).open()
            shopper.page.locator("aisle-line .ticket-stub").first.wait_for()
            tapped = taps(shopper, count)
        finally:
            browser.close()
            server.stop()
    rows = [
        in_percentiles("cold start: first paint", [each[0] for each in cold], "1000"),
        in_percentiles("cold start: first line to tap", [each[1] for each in cold], "1000"),
        in_percentiles("  main thread until then", [each[2] for each in cold], ""),
        in_percentiles("  a tap on it noted", [each[3] for each in cold], ""),
        in_percentiles("first tap, while it opens, to plan", [plan for _, plan in tapped[:1]], ""),
        in_percentiles("tap to repainted line", [line for line, _ in tapped[1:]], ""),
        in_percentiles("tap to repainted plan", [plan for _, plan in tapped[1:]], "100"),
    ]
    print(machine())
    print(f"Milliseconds at {SLOWDOWN}x CPU slowdown, radio off:")
    print(table(("what", "times", "p50", "p95", "most", "budget"), rows))
    print("First visit:")
    print(sizes)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else TAPS)
