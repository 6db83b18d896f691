"""The form of a trip in the making: stores and their order, day, money, and what is needed of each staple."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import msgspec

from ...engine.measure import show_unit_price
from ...engine.money import show
from ...home.household import Needed, TripDraft
from ...home.larder import StapleState
from ...homes import Snapshot
from ..fields import Fields, Typed
from .at_hand import AtHand

MOST_UNITS = 10_000  # as ``offers.Units``


class StoreRow(msgspec.Struct, frozen=True, kw_only=True):
    """A store to go to or not; ``stop``: which of the drive, as typed. ``channel_of``: a name, or ""."""

    id: str
    name: str
    channel_of: str
    tags: int
    going: bool
    stop: str


class NeedRow(msgspec.Struct, frozen=True, kw_only=True):
    """A staple: what the larder asks for and why, what stands in the fields, whether that is hers."""

    id: str
    name: str
    stock_up: str
    proposed_need: int
    proposed_welcome: int
    why: Sequence[str]
    need: str
    welcome: str
    left_out: bool
    hers: bool
    is_filler: bool


def read_draft(fields: Fields, at: AtHand) -> TripDraft:
    """The draft as the form has it; what does not fit is noted in ``fields``. What the form does not show
    (pins, what is left out of use) stays as it is."""
    snapshot, draft = at.snapshot, at.draft
    day = fields.day("day", needed="choose the day of the trip") or draft.day
    stores = _stores(fields, snapshot)
    if not stores:
        fields.wrong("stores", "choose at least one store to go to", value="nothing")
    needs: list[Needed] = []
    for state in at.larder:
        needed = _need(fields, state)
        if needed is not None:
            needs.append(needed)
    settings = draft.settings or snapshot.settings.settings
    asked = msgspec.structs.replace(
        settings,
        further_store_cents=fields.cents("drive") or 0,
        further_transaction_cents=fields.cents("queue") or 0,
    )
    return msgspec.structs.replace(
        draft,
        title=fields.text("title", needed="give the trip a name", longest=200),
        day=day,
        stores=stores,
        region=fields.text("region", longest=80),
        cash_cents=fields.cents("cash"),
        needs=tuple(needs),
        left_out=tuple(state.staple.id for state in at.larder if fields.flag(f"out.{state.staple.id}")),
        settings=None if asked == snapshot.settings.settings else asked,
        # A pin at a store that she does not go to would be told as broken for ever.
        pinned=tuple(pin for pin in draft.pinned if pin.store in stores),
    )


def _stores(fields: Fields, snapshot: Snapshot) -> tuple[str, ...]:
    going = set(fields.lines("stores"))
    stops = [
        (fields.whole(f"stop.{store}", low=1, high=99) or 100, place, store)
        for place, store in enumerate(snapshot.stores)
        if store in going
    ]
    return tuple(store for _, _, store in sorted(stops))


def _need(fields: Fields, state: StapleState) -> Needed | None:
    """Her numbers, or None where they are the larder's own."""
    staple = state.staple.id
    need = fields.whole(f"need.{staple}", high=MOST_UNITS)
    welcome = fields.whole(f"welcome.{staple}", high=MOST_UNITS)
    if need is None and welcome is None:
        return None
    need = need or 0
    welcome = need if welcome is None else welcome
    if welcome < need:
        fields.wrong(f"welcome.{staple}", f"at least the {need} needed")
    if (need, welcome) == (state.need, state.welcome):
        return None
    return Needed(staple=staple, need=need, welcome=max(need, welcome))


def typed_of(at: AtHand) -> dict[str, str]:
    """The form's fields but for stores and needs, as the draft has them."""
    settings = at.draft.settings or at.snapshot.settings.settings
    cash = at.draft.cash_cents

    def written(cents: int) -> str:
        return show(cents, "", at.snapshot.settings.exponent).strip() if cents else ""

    return {
        "title": at.draft.title,
        "day": at.draft.day,
        "region": at.draft.region or at.snapshot.settings.region,
        "cash": "" if cash is None else show(cash, "", at.snapshot.settings.exponent).strip(),
        "drive": written(settings.further_store_cents),
        "queue": written(settings.further_transaction_cents),
    }


def store_rows(at: AtHand, typed: Typed | None) -> list[StoreRow]:
    """Every store, those of the drive in front; ``typed``: what was sent and not taken."""
    snapshot, draft = at.snapshot, at.draft
    tags: dict[str, int] = {}
    for tag in snapshot.prices.values():
        tags[tag.store] = tags.get(tag.store, 0) + 1
    places = {store: place for place, store in enumerate(draft.stores, start=1)}
    going = set(draft.stores) if typed is None else set(typed.all("stores"))
    rows = [
        StoreRow(
            id=store.id,
            name=store.name,
            channel_of=_name(snapshot, store.channel_of),
            tags=tags.get(store.id, 0) + tags.get(store.channel_of or "", 0),
            going=store.id in going,
            stop=str(places.get(store.id, "")) if typed is None else typed[f"stop.{store.id}"],
        )
        for store in snapshot.stores.values()
    ]
    return sorted(rows, key=lambda row: (places.get(row.id, 100), row.name.lower()))


def _name(snapshot: Snapshot, store: str | None) -> str:
    return snapshot.stores[store].name if store is not None and store in snapshot.stores else ""


def need_rows(at: AtHand, typed: Typed | None) -> list[NeedRow]:
    """Every staple: what is needed first, then what is welcome, then the rest."""
    hers = {needed.staple: (needed.need, needed.welcome) for needed in at.draft.needs}
    rows: list[NeedRow] = []
    for state in at.larder:
        staple = state.staple
        need, welcome = hers.get(staple.id, (state.need, state.welcome))
        sent = typed is not None
        rows.append(
            NeedRow(
                id=staple.id,
                name=staple.name,
                stock_up=_stock_up(at, state),
                proposed_need=state.need,
                proposed_welcome=state.welcome,
                why=state.why,
                need=typed[f"need.{staple.id}"] if sent else str(need),
                welcome=typed[f"welcome.{staple.id}"] if sent else str(max(need, welcome)),
                left_out=bool(typed[f"out.{staple.id}"]) if sent else staple.id in at.draft.left_out,
                hers=staple.id in hers,
                is_filler=staple.stock_up is None and need == 0 and welcome > 0,
            )
        )
    place = {state.staple.id: n for n, state in enumerate(at.larder)}
    return sorted(rows, key=lambda row: (not row.proposed_need, not row.proposed_welcome, place[row.id]))


def _stock_up(at: AtHand, state: StapleState) -> str:
    price = state.staple.stock_up
    if price is None:
        return ""
    settings = at.snapshot.settings
    return show_unit_price(Fraction(price.cents), price.per, settings.currency, settings.exponent)
