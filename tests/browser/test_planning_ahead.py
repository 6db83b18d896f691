"""While she walks on, the next lines are planned without their shelf: an empty one then finds its plan made.

The trips are ``week_sizes.py``'s: invented weeks. What is expected is what the server's engine answers.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from playwright.sync_api import BrowserContext, Page, expect

from counterfoil.engine.papers import Happened, InTrolley, ShelfEmpty, Totals
from counterfoil.engine.planner import plan
from tests.bench.week_sizes import week
from tests.browser.shopper import Shopper, bring_in
from tests.browser.test_proof_in_the_background import cents, name_of, notes_it_empty, shelf_empty
from tests.served import Running

# Asks one worker's engine ahead, and another's that learned of it.
LEARNED = """
async ([trip, ahead, happened]) => {
    const {learnMade} = await import('/web/engine/known-plans.js');
    const {forget, makeAhead, plan} = await import('/web/engine/planner.js');
    const {loadSolver} = await import('/web/engine/solver.js');
    await loadSolver();
    forget();
    const made = makeAhead(trip, ahead);
    forget();
    learnMade(made);
    const found = plan(trip, happened, 'known');
    return [found, made.some(([, written]) => written === found)];
}
"""


def test_a_plan_made_ahead_is_the_answer_whatever_lies_in_the_trolley_as_planned(module_page: Page) -> None:
    trip = week(6, 10, 1, 2)
    empty = ("empty", ShelfEmpty(store="store-1", product="product-005-0"))
    ahead = Happened(entries=(empty,))
    kept = next(
        (planned.store, line.product)
        for planned in plan(trip, ahead, prove=False).transactions
        for line in planned.transaction.lines
    )
    took = ("took", InTrolley(store=kept[0], product=kept[1], units=1))
    happened = Happened(entries=(took, empty))

    written, was_made = module_page.evaluate(
        LEARNED, [msgspec.to_builtins(each) for each in (trip, ahead, happened)]
    )

    assert was_made
    assert msgspec.convert(written["totals"], Totals) == plan(trip, happened, prove=False).totals


def test_what_is_taken_as_planned_asks_nothing_though_something_unplanned_lies_in_the_trolley(
    module_page: Page,
) -> None:
    trip = week(6, 10, 1, 2)
    planned = {
        (each.store, line.product): line.units
        for each in plan(trip, prove=False).transactions
        for line in each.transaction.lines
    }
    tag = next(tag for tag in trip.prices if (tag.store, tag.product) not in planned)
    taken = [InTrolley(store=tag.store, product=tag.product, units=1)]
    changed = plan(trip, Happened(entries=(("0", taken[0]),)), prove=False)
    taken += [
        InTrolley(store=each.store, product=line.product, units=line.units)
        for each in changed.transactions
        for line in each.transaction.lines
        if (each.store, line.product) in planned
    ]
    entries = [(str(place), each) for place, each in enumerate(taken)]

    first, *others = module_page.evaluate(
        """async ([trip, entries]) => {
            const {forget, plan} = await import('/web/engine/planner.js');
            const {loadSolver} = await import('/web/engine/solver.js');
            await loadSolver();
            forget();
            const made = [];
            for (const [place] of entries.entries()) {
                made.push(plan(trip, {entries: entries.slice(0, place + 1)}, 'known'));
            }
            return [made[0].totals, ...made.map((each) => each === made[0])];
        }""",
        [msgspec.to_builtins(trip), msgspec.to_builtins(entries)],
    )

    assert len(others) > 3
    assert all(others)
    assert msgspec.convert(first, Totals) == changed.totals
    everything = Happened(entries=tuple(entries))
    assert plan(trip, everything, prove=False).totals == changed.totals


def test_the_worker_is_told_a_trip_once(module_page: Page) -> None:
    asked = module_page.evaluate(
        """async () => {
            const {EngineBridge} = await import('/web/phone/engine-bridge.js');
            const asked = [];
            const started = () => new class extends EventTarget {
                postMessage({id, trip}) {
                    asked.push(trip === undefined ? 'as before' : trip.id);
                    const answer = new MessageEvent('message', {data: {id, answer: 'the plan'}});
                    queueMicrotask(() => this.dispatchEvent(answer));
                }
                terminate() {}
            };
            const bridge = new EngineBridge(started);
            const [one, other] = [{id: 'one'}, {id: 'other'}];
            for (const trip of [one, one, other, one]) await bridge.plan(trip, {});
            bridge.close();
            await bridge.plan(one, {});
            return asked;
        }"""
    )
    assert asked == ["one", "as before", "other", "one", "one"]


def test_what_a_tap_would_have_to_solve_is_solved_before_and_a_tap_meanwhile_goes_between(
    module_page: Page,
) -> None:
    asked = module_page.evaluate(
        """async () => {
            const {EngineBridge} = await import('/web/phone/engine-bridge.js');
            const asked = [];
            const started = () => new class extends EventTarget {
                postMessage({id, ask}) {
                    asked.push(ask);
                    const more = ask === 'warmed' && asked.filter((each) => each === ask).length < 3;
                    const answer = new MessageEvent('message', {data: {id, answer: more ? null : 'done'}});
                    queueMicrotask(() => this.dispatchEvent(answer));
                }
                terminate() {}
            };
            const bridge = new EngineBridge(started);
            const trip = {id: 'one'};
            await Promise.all([bridge.warmed(trip, {}), bridge.plan(trip, {}), bridge.breakEven(trip, {})]);
            return asked;
        }"""
    )
    assert asked == ["warmed", "plan", "break_even", "warmed", "warmed"]


def test_the_engine_solves_what_lies_about_the_plan_before_the_first_tap(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    server = running()
    bring_in(server.url, week(6, 10, 1, 2))
    phone.add_init_script(
        """
        window.asked = [];
        const post = Worker.prototype.postMessage;
        Worker.prototype.postMessage = function (message) {
            if (message.ask) asked.push(message.ask);
            return post.apply(this, arguments);
        };
        """
    )
    shopper = Shopper(phone, server.url).open()
    shopper.page.wait_for_function("() => asked.includes('warmed')")
    # She was told nothing of it, and no plan was asked for beside the one that stands.
    assert shopper.page.evaluate("asked.filter((each) => each === 'plan').length") == 1
    expect(shopper.page.locator(".news .cause")).to_have_count(0)
    assert shopper.faults == []


def test_a_shelf_found_empty_after_a_rest_shows_the_plan_that_was_made_ahead(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    trip = week(6, 10, 1, 2)
    _, proven = shelf_empty(trip, "store-1", "product-005-0")
    server = running()
    bring_in(server.url, trip)
    shopper = Shopper(phone, server.url).open()
    line = "store-1 product-005-0"
    shopper.page.wait_for_function(
        "(line) => document.querySelector('aisle-screen').inHand.ahead.made.get(line)?.length > 0", arg=line
    )

    notes_it_empty(shopper, "store-1", "product-005-0")

    shopper.told(f"Shelf empty: {name_of(trip, 'product-005-0')}")
    expect(shopper.page.locator(".totals div", has_text="Net").locator("b")).to_have_text(cents(proven))
    # Told to the worker that answers the taps, and so not kept here.
    assert shopper.page.evaluate(
        "(line) => !document.querySelector('aisle-screen').inHand.ahead.made.has(line)", line
    )
    assert shopper.faults == []
