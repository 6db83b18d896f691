"""A shopper with a phone: does what she would do on the page, and reads what it says.

Every step waits for what it is about to show on the screen, never for a time.
"""

from __future__ import annotations

import os
import urllib.request

import msgspec
from playwright.sync_api import BrowserContext, Locator, Page, expect

from counterfoil.engine.offers import Trip
from tests.browser.axe import violations
from tests.served import ROOT

PICTURES = ROOT / "demo" / "pictures"
# Milliseconds: a busy machine replans slowly, and nothing here is timed.
PATIENCE = int(os.environ.get("COUNTERFOIL_PATIENCE", "60000"))


def bring_in(url: str, trip: Trip) -> None:
    """Brings a trip in at the Desk's server, as a program would."""
    request = urllib.request.Request(
        f"{url}/api/trips",
        data=msgspec.json.encode(trip),
        headers={"Content-Type": "application/json", "Accept": "application/json"},
    )
    with urllib.request.urlopen(request) as answer:
        assert answer.status < 300


class Shopper:
    """One phone's page. ``faults``: what the page wrote to the console as an error."""

    def __init__(self, phone: BrowserContext, url: str) -> None:
        self.phone = phone
        self.url = url
        self.page: Page = phone.new_page()
        self.page.set_default_timeout(PATIENCE)
        expect.set_options(timeout=PATIENCE)
        self.faults: list[str] = []
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))

    # --- opening -----------------------------------------------------------------------

    def open(self) -> Shopper:
        """Opens the page and waits for the plan and for the page to be kept on the phone."""
        self.page.goto(self.url)
        self.settled()
        return self

    def keep_page(self) -> None:
        """Waits until the page says that it opens without a network."""
        self.go("Trip")
        expect(self.page.get_by_text("Kept on the phone: it opens without a network.")).to_be_visible()
        self.go("Aisle")

    def settled(self) -> None:
        """Waits until the plan in view is the plan of everything noted."""
        expect(self.page.locator(".totals[data-replanning=complete]")).to_be_visible()

    def go(self, screen: str) -> None:
        self.page.get_by_role("navigation", name="Screens").get_by_role("link", name=screen).tap()
        expect(self.page.get_by_role("main", name=screen)).to_be_visible()

    # --- in the aisle ------------------------------------------------------------------

    def line(self, product: str) -> Locator:
        """The ticket of a product."""
        return self.page.locator("aisle-line").filter(has=self.page.locator(".ticket-name", has_text=product))

    def take(self, product: str) -> None:
        """Taps the stub: everything of it lies in the trolley."""
        self.line(product).locator(".ticket-stub").tap()
        self.told(f"{product} in the trolley")

    def more(self, product: str, part: str | None = None) -> Locator:
        """Opens a line's sheet; the sheet, or the part of it under that heading."""
        self.line(product).locator(".ticket-name").tap()
        sheet = self.page.get_by_role("dialog")
        expect(sheet.get_by_role("heading", name=product, exact=True)).to_be_visible()
        return sheet if part is None else sheet.get_by_role("region", name=part)

    def empty(self, product: str) -> Locator:
        """Taps that the shelf is empty; the sheet with what to do about it."""
        self.line(product).get_by_role("button", name="shelf empty").tap()
        sheet = self.page.get_by_role("dialog")
        expect(sheet.get_by_text("Shelf empty. What it does to the net cost")).to_be_visible()
        return sheet

    def close(self) -> None:
        """Closes the sheet that is up."""
        self.page.get_by_role("dialog").get_by_role("button", name="Close").tap()

    def told(self, cause: str) -> Locator:
        """Waits until the page tells the outcome of a tap; the strip that tells it."""
        news = self.page.get_by_role("region", name="What changed")
        expect(news.locator(".cause")).to_contain_text(cause)
        expect(self.page.locator(".news[data-waiting=false]")).to_be_visible()
        return news

    def state_of(self, product: str, state: str) -> None:
        """The word on the stub, which is the shape's too."""
        expect(self.line(product).locator(".stub-word")).to_have_text(state)
        expect(self.line(product).locator(f".ticket[data-state='{state}'] .shape")).to_be_visible()

    def totals(self, out_of_pocket: str, net: str) -> None:
        figures = self.page.locator(".totals")
        expect(figures.locator("div", has_text="Out of pocket").locator("b")).to_have_text(out_of_pocket)
        expect(figures.locator("div", has_text="Net").locator("b")).to_have_text(net)

    def spoken(self, *sentences: str) -> None:
        """What a screen reader was told of the last change."""
        for sentence in sentences:
            expect(self.page.locator(".spoken")).to_contain_text(sentence)

    # --- at the register ---------------------------------------------------------------

    @property
    def till(self) -> Locator:
        return self.page.locator("register-transaction")

    def step(self, heading: str) -> Locator:
        """One step of the transaction in view."""
        return self.till.locator(".steps > li").filter(has=self.page.get_by_role("heading", name=heading))

    def done(self, total: str) -> None:
        self.till.get_by_role("button", name=f"It shows {total}: done").tap()
        self.told("Through the register")

    # --- what a test asks of the page ----------------------------------------------------

    def picture(self, name: str, *, whole: bool = False) -> None:
        """Keeps a picture for the README when ``COUNTERFOIL_PICTURES`` asks for it."""
        if os.environ.get("COUNTERFOIL_PICTURES"):
            PICTURES.mkdir(exist_ok=True)
            self.page.screenshot(path=PICTURES / f"{name}.png", full_page=whole, animations="disabled")

    def violations(self) -> list[str]:
        """What axe finds wrong with the page as it stands; see ``axe.py``."""
        return violations(self.page)
