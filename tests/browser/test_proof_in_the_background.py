"""A tap is answered with a good plan at once; whether anything is better is asked afterwards, out of the way.

The trips are ``week_sizes.py``'s: invented weeks that no plan without proof is proven for. What is expected
is what the server's engine answers, with proof and without.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from playwright.sync_api import BrowserContext, Page, expect

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, Plan, ShelfEmpty
from counterfoil.engine.planner import plan
from tests.bench.week_sizes import week
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running

CHECKING = "Checking whether anything is better"
BEST = "Nothing is better: proven"

# A worker that answers when it is told to, and remembers what it was asked.
BRIDGE = """
async () => {
    const {EngineBridge, Superseded} = await import('/web/phone/engine-bridge.js');
    const worker = new class extends EventTarget {
        asked = [];
        postMessage(question) { this.asked.push(question); }
        terminate() {}
        answer(answer) {
            const {id} = this.asked.at(-1);
            this.dispatchEvent(new MessageEvent('message', {data: {id, answer}}));
            return new Promise((resolve) => setTimeout(resolve));
        }
    };
    const bridge = new EngineBridge(() => worker);
    let told = '';
    const asked = () => worker.asked.map(({ask, trip}) => `${ask} ${(told = trip ?? told)}`);
    const said = (promise) => promise.then((answer) => answer, (why) => {
        return why instanceof Superseded ? 'superseded' : String(why);
    });
    return await (%s)({worker, bridge, asked, said});
}
"""


def test_what_a_tap_asks_goes_between_the_pieces_of_a_proof(module_page: Page) -> None:
    asked, proof, planned = module_page.evaluate(
        BRIDGE
        % """async ({worker, bridge, asked, said}) => {
            const proof = said(bridge.proof('one', {}));
            await worker.answer(null);
            const planned = said(bridge.plan('two', {}));
            const looked = said(bridge.breakEven('one', {}, 'store', 'product'));
            await worker.answer(null);
            await worker.answer('the plan');
            await worker.answer(199);
            await worker.answer('proven');
            return [asked(), await proof, await planned, await looked];
        }"""
    )[:3]
    # The second piece had begun when the tap came; nothing else of the proof goes before it.
    assert asked == ["proof one", "proof one", "plan two", "break_even one", "proof one"]
    assert (proof, planned) == ("proven", "the plan")


def test_a_newer_proof_and_a_tap_leave_the_older_one_unfinished(module_page: Page) -> None:
    asked, older, newer, left = module_page.evaluate(
        BRIDGE
        % """async ({worker, bridge, asked, said}) => {
            const older = said(bridge.proof('one', {}));
            const newer = said(bridge.proof('two', {}));
            await worker.answer(null);
            await worker.answer('proven');
            const left = said(bridge.proof('three', {}));
            bridge.leavePieces();
            await worker.answer(null);
            return [asked(), await older, await newer, await left];
        }"""
    )
    assert asked == ["proof one", "proof two", "proof three"]
    assert (older, newer, left) == ("superseded", "proven", "superseded")


# A plan as the proof is compared with: so many units for 1.00 and as much cash, in one transaction.
PLAN = """(units, optimal) => ({
    transactions: [{transaction: {lines: [{product: 'soap', units}]}}],
    totals: {net_cents: 100, worth_cents: 0, out_of_pocket_cents: 100, transactions: 1},
    proof: {optimal},
})"""


def test_a_plan_that_buys_more_for_the_same_takes_the_place_of_the_one_in_view(module_page: Page) -> None:
    units, optimal = module_page.evaluate(
        """async (plan) => {
            const {Proving} = await import('/web/phone/proving.js');
            const planned = eval(plan);
            const aside = {leavePieces() {}, proof: async () => ({plan: planned(3, true), proven: []})};
            const proving = new Proving(aside);
            const proved = new Promise((resolve) => {
                proving.addEventListener('proved', (event) => resolve(event.detail));
            });
            proving.begin(planned(2, false), {}, {entries: []}, undefined);
            const {transactions, proof} = await proved;
            return [transactions[0].transaction.lines[0].units, proof.optimal];
        }""",
        PLAN,
    )
    assert (units, optimal) == (3, True)


def shelf_empty(trip: Trip, store: str, product: str) -> tuple[Plan, Plan]:
    """The plan without proof and the one with it, after one shelf was found empty."""
    happened = Happened(entries=(("event", ShelfEmpty(store=store, product=product)),))
    return plan(trip, happened, prove=False), plan(trip, happened)


def name_of(trip: Trip, product: str) -> str:
    return next(each.description for each in trip.products if each.id == product)


def cents(plan: Plan) -> str:
    return f"${plan.totals.net_cents / 100:.2f}"


def notes_it_empty(shopper: Shopper, store: str, product: str) -> None:
    """Notes the empty shelf and nothing about what to do instead, as a sheet does that has no swaps."""
    shopper.page.locator("aisle-screen").evaluate(
        "(screen, detail) => screen.dispatchEvent(new CustomEvent('report', {detail, bubbles: true}))",
        [{"kind": "shelf_empty", "store": store, "product": product}],
    )


def test_where_nothing_is_better_the_check_changes_one_line_and_says_nothing(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    trip = week(6, 10, 1, 2)
    quick, proven = shelf_empty(trip, "store-1", "product-005-0")
    assert not quick.proof.optimal
    assert proven.proof.optimal
    assert proven.totals == quick.totals
    server = running()
    bring_in(server.url, trip)
    shopper = Shopper(phone, server.url).open()
    notes_it_empty(shopper, "store-1", "product-005-0")
    shopper.told(f"Shelf empty: {name_of(trip, 'product-005-0')}")
    words = shopper.page.locator(".proof-words")
    expect(words).to_have_text(re.compile(f"{CHECKING}|{BEST}"))
    spoken = shopper.page.locator(".spoken").inner_text()
    height = shopper.page.locator(".news").bounding_box()
    expect(words).to_have_text(BEST)
    assert shopper.page.locator(".spoken").inner_text() == spoken
    assert shopper.page.locator(".news").bounding_box() == height
    expect(shopper.page.locator(".totals div", has_text="Net").locator("b")).to_have_text(cents(proven))
    assert shopper.faults == []


def test_a_better_plan_is_told_with_what_changed(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    trip = week(8, 14, 1, 2)
    quick, proven = shelf_empty(trip, "store-0", "product-006-2")
    assert proven.totals.net_cents < quick.totals.net_cents
    server = running()
    bring_in(server.url, trip)
    shopper = Shopper(phone, server.url).open()
    notes_it_empty(shopper, "store-0", "product-006-2")
    shopper.told("Checked again: there is a better plan")
    expect(shopper.page.locator(".proof-words")).to_have_text(BEST)
    shopper.spoken(f"Net now {cents(proven)}, was {cents(quick)}.")
    # The tap can still be taken back, and so is the check with it.
    shopper.page.get_by_role("button", name="Undo").tap()
    shopper.told("Taken back")
    assert shopper.faults == []


def test_checking_off_a_proven_plan_leaves_nothing_to_check(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    trip = week(6, 10, 1, 2)
    server = running()
    bring_in(server.url, trip)
    shopper = Shopper(phone, server.url).open()
    home = plan(trip)
    shopper.take(name_of(trip, home.transactions[0].transaction.lines[0].product))
    expect(shopper.page.locator(".proof-words")).to_have_text(BEST)
    expect(shopper.page.locator(".totals div", has_text="Net").locator("b")).to_have_text(cents(home))
