"""The wallet while the days go by: each trip and note changes what is in it (``balances.py``)."""

from __future__ import annotations

from collections.abc import Sequence

from ..engine.offers import RainCheck, Slip, Trip, Wallet
from ..engine.papers import PayBySlip, RainCheckTaken
from .held import CardMove, HeldCard, HeldRainCheck, HeldSlip, key_of
from .notes import GiftCardSeen, Note, RainCheckNoted, SlipNoted, UnplannedPurchase
from .purchases import Bought, Purchase


class Purse:
    """The papers while the days go by."""

    def __init__(self) -> None:
        self.slips: dict[str, HeldSlip] = {}
        self.cards: dict[str, HeldCard] = {}
        self.rain_checks: dict[str, HeldRainCheck] = {}

    def at_home(self, wallet: Wallet) -> None:
        """Papers typed in at home, known from the first day on."""
        for slip in wallet.slips:
            self._add_slip(slip.id, slip, "", "", "Typed in at home")
        for card in wallet.gift_cards:
            self._say_card(card.id, card.store, card.cents, "", "Typed in at home")
        for check in wallet.rain_checks:
            self._add_rain_check(check.id, check, "", "")

    # --- notes --------------------------------------------------------------------------

    def note(self, note: Note) -> None:
        """What the household wrote down itself."""
        match note.what:
            case UnplannedPurchase(store=store, slips=slips):
                for slip in slips:
                    self._add_slip(key_of(note.id, slip.id), slip, "", note.day, f"Printed at {store}")
            case SlipNoted(slip=key, state=state):
                slip = self.slips.get(key)
                if slip is not None and slip.state == "in hand":
                    slip.state, slip.gone = state, note.day
            case RainCheckNoted(rain_check=key, units=units):
                each = self.rain_checks.get(key)
                if each is not None:
                    gone = min(units, each.units)
                    each.units -= gone
                    each.lost += gone
            case GiftCardSeen(card=key, store=store, cents=cents):
                self._say_card(key, store, cents, note.day, "Balance as read")
            case _:
                pass

    # --- trips --------------------------------------------------------------------------

    def trip(self, found: Bought) -> None:
        """A trip: its wallet, what it took, spent and brought."""
        names = self._wallet(found.trip, found.wallet)
        for event in found.events:
            if isinstance(event.what, RainCheckTaken):
                self._rain_check_taken(found.trip, event.id, event.what)
        for purchase in found.purchases:
            self._spend(found.trip, purchase, names)
        self._cards(found, names)

    def _wallet(self, trip: Trip, wallet: Wallet) -> dict[str, str]:
        """Takes in what the trip's wallet lists; its ids there -> keys."""
        names: dict[str, str] = {}
        for slip in wallet.slips:
            names[slip.id] = self._known_slip(slip, set(names.values())) or slip.id
            if names[slip.id] not in self.slips:
                self._add_slip(slip.id, slip, trip.id, trip.day, f"In the wallet of {trip.title or trip.id}")
        for check in wallet.rain_checks:
            known = self._known_rain_check(check, set(names.values()))
            names[check.id] = check.id if known is None else known.key
            if known is None:
                self._add_rain_check(check.id, check, trip.id, trip.day)
            else:
                known.units = check.units
        for card in wallet.gift_cards:
            names[card.id] = card.id
            self._say_card(card.id, card.store, card.cents, trip.day, f"As {trip.title or trip.id} has it")
        return names

    def _known_slip(self, slip: Slip, named: set[str]) -> str | None:
        if slip.id in self.slips:
            return slip.id
        terms = (slip.store, slip.cents, slip.until)
        alike = [
            key
            for key, held in self.slips.items()
            if held.state == "in hand"
            and (held.store, held.cents, held.until) == terms
            and key not in named
            and key.endswith(f".{slip.id}")
        ]
        return alike[-1] if alike else None

    def _known_rain_check(self, check: RainCheck, named: set[str]) -> HeldRainCheck | None:
        if check.id in self.rain_checks:
            return self.rain_checks[check.id]
        terms = (check.store, check.product, check.cents, check.until)
        for held in self.rain_checks.values():
            alike = (held.store, held.product, held.cents, held.until) == terms
            if alike and held.units and held.key not in named:
                return held
        return None

    def _add_slip(self, key: str, slip: Slip, trip: str, day: str, came_from: str) -> None:
        self.slips[key] = HeldSlip(
            key=key,
            store=slip.store,
            cents=slip.cents,
            until=slip.until,
            offer=slip.offer,
            trip=trip,
            since=day,
            came_from=came_from,
        )

    def _rain_check_taken(self, trip: Trip, event: str, report: RainCheckTaken) -> None:
        key = key_of("rain-check", event)
        check = RainCheck(
            id=key,
            store=report.store,
            product=report.product,
            cents=report.cents,
            units=report.units,
            until=report.until,
        )
        self._add_rain_check(key, check, trip.id, trip.day)

    def _add_rain_check(self, key: str, check: RainCheck, trip: str, day: str) -> None:
        self.rain_checks[key] = HeldRainCheck(
            key=key,
            store=check.store,
            product=check.product,
            cents=check.cents,
            until=check.until,
            trip=trip,
            since=day,
            taken=check.units,
            units=check.units,
        )

    def _spend(self, trip: Trip, purchase: Purchase, names: dict[str, str]) -> None:
        for tender in purchase.transaction.tenders:
            if isinstance(tender, PayBySlip):
                slip = self.slips.get(names.get(tender.id, ""))
                if slip is not None and slip.state == "in hand":
                    slip.state, slip.gone = "spent", purchase.day
        for line in purchase.transaction.lines:
            check = self.rain_checks.get(names.get(line.rain_check or "", ""))
            if check is not None:
                used = min(line.units, check.units)
                check.units -= used
                check.used += used
        store = next((each.name for each in trip.stores if each.id == purchase.store), purchase.store)
        for slip in purchase.slips:
            key = key_of(trip.id, slip.id)
            names[slip.id] = key
            came = f"Printed by transaction {purchase.number} at {store}"
            self._add_slip(key, slip, trip.id, purchase.day, came)

    # --- gift cards ---------------------------------------------------------------------

    def _cards(self, found: Bought, names: dict[str, str]) -> None:
        """Balances at the end of the trip, as the engine's own fold leaves them."""
        trip, loaded = found.trip, _cards_loaded(found.purchases)
        title = trip.title or trip.id
        for card in trip.wallet.gift_cards:
            if card.id in names:
                held = self.cards[card.id]
                if held.cents != card.cents:
                    self._move(held, trip.day, f"Paid on {title}", card.cents - held.cents)
            elif card.id in loaded:
                key = key_of(trip.id, card.id)
                held = self.cards.setdefault(key, HeldCard(key=key, store=card.store, cents=0, moves=[]))
                self._move(held, trip.day, f"Loaded on {title}", loaded[card.id])
                if card.cents != loaded[card.id]:
                    self._move(held, trip.day, f"Paid on {title}", card.cents - loaded[card.id])

    def _say_card(self, key: str, store: str, cents: int, day: str, words: str) -> None:
        held = self.cards.setdefault(key, HeldCard(key=key, store=store, cents=0, moves=[]))
        if held.cents != cents or not held.moves:
            self._move(held, day, words, cents - held.cents)

    def _move(self, held: HeldCard, day: str, words: str, cents: int) -> None:
        held.cents += cents
        held.moves.append(CardMove(day=day, words=words, cents=cents, left=held.cents))


def _cards_loaded(purchases: Sequence[Purchase]) -> dict[str, int]:
    """Cents per card that really was loaded, by the name that the engine gives it."""
    return {
        f"{earned.offer}.{purchase.number}": earned.cents
        for purchase in purchases
        for earned in purchase.earned
        if earned.kind == "gift_card"
    }
