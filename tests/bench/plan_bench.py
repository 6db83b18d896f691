"""How long a plan takes: on the server, and in Chromium at 1x and at 4x CPU slowdown.

    python -m tests.bench.plan_bench [--small]

Server: the first plan of an invented week (clusters and spreading), and with its proof. In
Chromium the twin runs in the page itself, where the slowdown reaches it (a worker it would not):
first plan with nothing known; with the proven plan from home, as the phone carries it, a replan of the
whole trip after all taps with nothing else remembered, and tap to plan with what was solved before
remembered, as in the aisle; percentiles over the taps, every third an empty shelf: as she taps one after the
other, and with the empty shelves planned ahead, as while she walks on. One week is planned once more with a
cash ceiling of nine tenths of what its plan puts down. ``--small`` leaves out the two largest weeks.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterator

import msgspec
from playwright.sync_api import Page, sync_playwright

from counterfoil.engine import planner
from counterfoil.engine.clusters import clusters
from counterfoil.engine.history import situation_after
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened
from counterfoil.engine.planner import plan
from counterfoil.engine.shelves import shelves_of, transactions_allowed
from tests.bench.machine import machine, percentile, table
from tests.bench.week_sizes import week
from tests.chromium import launch_chromium
from tests.served import ROOT, Static

# wants, coupons, rewards, stores: the second and the third are the budgets' own sizes.
WEEKS = [(10, 20, 2, 2), (40, 60, 8, 2), (150, 300, 30, 5), (500, 800, 60, 5)]
CAPPED = WEEKS[1]
TAPS = 12


def weeks(sizes: list[tuple[int, int, int, int]]) -> Iterator[tuple[str, Trip]]:
    """The weeks by their sizes, and the one with a cash ceiling."""
    for size in sizes:
        trip = week(*size)
        yield "/".join(map(str, size)), trip
        if size == CAPPED:
            cash = plan(trip, prove=False).totals.out_of_pocket_cents * 9 // 10
            capped = msgspec.structs.replace(trip.wallet, cash_cents=cash)
            yield "the same, 9/10 of the cash", msgspec.structs.replace(trip, wallet=capped)


def on_the_server(sizes: list[tuple[int, int, int, int]]) -> str:
    """Plan times, sizes and gaps on the server."""
    rows: list[tuple[object, ...]] = []
    for name, trip in weeks(sizes):
        situation = situation_after(trip, Happened())
        wants = list(situation.trip.wants)
        shelves = shelves_of(situation, wants).values()
        columns = sum(
            len(shelf.columns) * transactions_allowed(situation, shelf.counter.store) for shelf in shelves
        )
        groups = [len(group) for group in clusters(situation, wants)]
        planner.forget()
        started = time.perf_counter()
        first = plan(trip, prove=False)
        quick = time.perf_counter() - started
        planner.forget()
        started = time.perf_counter()
        proven = plan(trip)
        rows.append(
            (
                name,
                columns,
                f"{len(groups)} (most {max(groups)})",
                f"{quick * 1000:.0f}",
                first.proof.gap_cents,
                f"{(time.perf_counter() - started) * 1000:.0f}",
                "yes" if proven.proof.optimal else f"gap {proven.proof.gap_cents}",
            )
        )
    head = (
        "wants/coupons/rewards/stores",
        "columns",
        "clusters",
        "plan ms",
        "gap cents",
        "with proof ms",
        "proven",
    )
    return table(head, rows)


def in_chromium(sizes: list[tuple[int, int, int, int]]) -> str:
    """The same on the phone's engine, at both speeds."""
    rows: list[tuple[object, ...]] = []
    site = Static(ROOT)
    with sync_playwright() as playwright:
        browser = launch_chromium(playwright)
        for name, planned in weeks(sizes):
            trip = json.loads(msgspec.json.encode(planned))
            for slowdown in (1, 4):
                page = browser.new_page()
                page.goto(f"{site.url}/tests/blank.html")
                throttle(page, slowdown)
                figures = timed(page, trip)
                taps = figures["taps"]
                rows.append(
                    (
                        name,
                        f"{slowdown}x",
                        f"{figures['first']:.0f}",
                        f"{figures['whole']:.0f}",
                        f"{percentile(taps, 0.5):.0f}",
                        f"{percentile(taps, 0.95):.0f}",
                        f"{percentile(figures['ahead'], 0.95):.0f}",
                    )
                )
                page.close()
        browser.close()
    site.stop()
    head = (
        "wants/coupons/rewards/stores",
        "speed",
        "first plan ms",
        "whole replan ms",
        "tap p50 ms",
        "tap p95 ms",
        "planned ahead p95 ms",
    )
    return table(head, rows)


def throttle(page: Page, slowdown: int) -> None:
    """Slows the page's processor down, as Chromium's own tools do."""
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": slowdown})  # pyright: ignore[reportUnknownMemberType]  # untyped dict in playwright's own signature


def timed(page: Page, trip: object) -> dict[str, list[float]]:
    """What ``plan_bench.js`` measures in the page."""
    return page.evaluate(
        "async ([trip, taps]) => (await import('/tests/bench/plan_bench.js')).measure(trip, taps)",
        [trip, TAPS],
    )


def main() -> None:
    small = "--small" in sys.argv[1:]
    print(machine(), flush=True)
    print("\nOn the server\n" + on_the_server(WEEKS[:2] if small else WEEKS), flush=True)
    print("\nIn Chromium\n" + in_chromium(WEEKS[:2] if small else WEEKS[:3]), flush=True)


if __name__ == "__main__":
    main()
