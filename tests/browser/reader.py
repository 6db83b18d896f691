"""A reader of a published site: does what she would do on its pages, and reads what they say.

The trip is that of ``saturday.py`` as readers get it, worked by hand: one of each, two razors for their slip.

Alder Row Grocers:   oats 2.00 - 0.50 = 1.50; soap 2.49 - 0.60 = 1.89; 5 % tax on 2.49 is 0.12   3.51
Bittern Lane Drugs:  2 razors 14.98 - 6.00, prints a 4.00 slip                                     8.98
                     shampoo 4.50, paid with the slip and 0.50                                      4.50
Out of pocket 3.51 + 8.98 + 0.50 = 12.99; net 3.51 + 8.98 + 4.50 - 4.00 = 12.99.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import msgspec
from playwright.sync_api import BrowserContext, ConsoleMessage, Locator, expect

from counterfoil.after.publishing.choices import PublishChoices
from counterfoil.after.publishing.site import Published, made_ready, publish
from counterfoil.engine.offers import CentsOff, Trip
from counterfoil.engine.papers import Plan
from counterfoil.engine.planner import plan
from counterfoil.shipped import web_folder
from tests.browser.saturday import saturday
from tests.browser.shopper import Shopper

MONDAY = datetime(2026, 11, 30, 9, 30, tzinfo=UTC)
SLUG = "2026-12-05"
TITLE = "Saturday for readers"


def regional() -> Trip:
    """Saturday's trip; a soap coupon is 0.40 on the coast and 0.60 in the vale, where the stores stand."""
    trip = saturday()
    coupons = tuple(
        msgspec.structs.replace(each, gives=CentsOff(cents=60, regional_cents={"vale": 60, "coast": 40}))
        if each.id == "larkmoor-60"
        else each
        for each in trip.coupons
    )
    stores = tuple(msgspec.structs.replace(store, region="vale") for store in trip.stores)
    return msgspec.structs.replace(trip, coupons=coupons, stores=stores)


def put_out(folder: Path, trip: Trip | None = None, *, web: Path | None = None) -> Published:
    """Publishes a trip into a folder."""
    trip = trip or regional()
    choices = PublishChoices(address="https://list.example/deals/", author="Wren Tallow", title=TITLE)
    return publish(made_ready(trip, plan(trip), folder, choices, MONDAY), web=web or web_folder(), now=MONDAY)


class Reader(Shopper):
    """A phone at a site; ``url``: the site's folder. ``faults``: whatever the browser complained of;
    ``asked``: every address that was asked for."""

    def __init__(self, phone: BrowserContext, url: str) -> None:
        super().__init__(phone, url)
        self.asked: list[str] = []
        self.page.on("console", self._complained)
        self.page.on("request", lambda request: self.asked.append(request.url))

    def _complained(self, said: ConsoleMessage) -> None:
        if said.type == "error":
            self.faults.append(said.text)

    def carry(self) -> Reader:
        """From the list of trips to the article, and on to the trip in her hand."""
        self.page.goto(f"{self.url}/index.html")
        self.page.get_by_role("link", name=TITLE).tap()
        self.page.get_by_role("link", name="Carry this trip").first.tap()
        self.settled()
        return self

    def kept(self) -> Reader:
        """Waits until the site opens without a network."""
        self.go("Trips")
        expect(self.page.get_by_text("Kept on the phone: it opens without a network.")).to_be_visible()
        self.go("My trip")
        return self

    def planned(self) -> None:
        """Waits until the plan in view is the plan of everything that she entered."""
        expect(self.page.locator("mine-screen [role=status][data-replanning=complete]")).to_be_visible()

    def opened(self, deal: str) -> Locator:
        """One deal's own fields."""
        details = self.page.locator("details.hers").filter(has_text=deal).first
        if details.get_attribute("open") is None:
            details.locator("summary").tap()
        return details

    def enter(self, field: Locator, text: str) -> None:
        """Types into a field and leaves it; waits for the plan."""
        field.fill(text)
        field.blur()
        self.planned()

    def changes(self, *sentences: str) -> None:
        """What is said of her plan against the published one."""
        told = self.page.locator("mine-screen [role=status]")
        for sentence in sentences:
            expect(told).to_contain_text(sentence)

    def stored(self) -> dict[str, object]:
        """Her trip, and the last plan worked out for it, as the phone keeps them."""
        return self.page.evaluate(
            """async () => {
                const open = (name) => new Promise((resolve, reject) => {
                    const opening = indexedDB.open(name);
                    opening.onsuccess = () => resolve(opening.result);
                    opening.onerror = () => reject(opening.error);
                });
                const db = await open(`counterfoil-reader ${new URL('./', document.baseURI).pathname}`);
                const all = (name) => new Promise((resolve) => {
                    const asked = db.transaction(name).objectStore(name).getAll();
                    asked.onsuccess = () => resolve(asked.result);
                });
                const [[carried], [kept]] = [await all('trips'), await all('plans')];
                db.close();
                return {trip: carried.trip, plan: kept?.plan ?? carried.plan, basis: kept?.basis ?? ''};
            }"""
        )


def published_trip(site: Path) -> Trip:
    return msgspec.convert(json.loads((site / "trips" / SLUG / "trip.json").read_bytes())["trip"], Trip)


def plain(document: msgspec.Struct) -> object:
    """A document as JSON has it, whatever stands at its default left out."""
    return msgspec.json.decode(msgspec.json.encode(document))


def same_as_python(reader: Reader, changed: Trip) -> Plan:
    """Asserts that her phone carries this very trip, and planned it as Python does; the plan."""
    stored = reader.stored()
    hers = msgspec.convert(stored["trip"], Trip)
    assert plain(msgspec.structs.replace(hers, version=1)) == plain(changed)
    expected = plan(changed)
    got = msgspec.convert(stored["plan"], Plan)
    assert plain(got.totals) == plain(expected.totals)
    assert plain(got)["deals"] == plain(expected)["deals"]  # type: ignore[index]  # both are objects
    assert [(each.store, each.receipt.total_cents, each.hand_over) for each in got.transactions] == [
        (each.store, each.receipt.total_cents, each.hand_over) for each in expected.transactions
    ]
    return expected
