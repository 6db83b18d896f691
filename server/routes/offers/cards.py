"""Cards: one for each offer that was read from a text or a barcode, with what she still has to say of it.

The page keeps no state on the server: the text, the codes and what was typed on each card travel with the
form, and are read anew each time. A card's fields begin with its key, which is made of its words and the
day, so that editing one line of a paste leaves the other cards as they are.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

import msgspec

from ...engine.offers import BasketOff, NForM, Product
from ...home.codes import Code, id_of_code, made_by, standing_in
from ...home.finding import MOST_SHOWN, fitting, likely
from ...homes import Snapshot
from ...intake.coupon_words import describe, draft_coupon
from ...intake.day_words import day_in_words
from ...intake.drafts import AskDraft, CouponDraft, DealDraft, Draft, PercentDraft, RewardDraft
from ..fields import Typed
from .forms.form import Written
from .forms.labels import label_of
from .forms.sheet import Chooser, Values, chooser

MOST_SURE = 12  # products that "any flavour" may tick by itself
_VARIETY = ("any", "all", "select", "variet", "assorted", "flavo", "scent", "kind")


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """An offer that was read. ``kind``: of the record that it becomes; ``words``: it in a sentence.

    ``minds``: what to be told before it is taken. ``there``: the id of the same coupon in the binder.
    ``companies``: company prefixes of its code; ``id``: the id that it gets, "" where it is made of its name.
    ``ways``: the sets of requirements of which any one will do, in words, where there are several.
    """

    key: str
    kind: str
    draft: Draft
    words: str = ""
    minds: tuple[str, ...] = ()
    there: str = ""
    companies: tuple[str, ...] = ()
    id: str = ""
    ways: tuple[str, ...] = ()

    @property
    def asks(self) -> tuple[AskDraft, ...]:
        """Its requirements: a coupon may have several."""
        return self.draft.offer.asks if isinstance(self.draft.offer, CouponDraft) else (AskDraft(),)

    @property
    def choosers(self) -> list[str]:
        """The names of its lists of products."""
        return [f"{self.key}-products-{leg}" for leg in range(len(self.asks))]

    @property
    def may_be_everything(self) -> bool:
        """Whether it may be for everything in the store."""
        offer = self.draft.offer
        return isinstance(offer, PercentDraft) or (
            isinstance(offer, CouponDraft) and isinstance(offer.gives, BasketOff)
        )


class ReadAs(msgspec.Struct, frozen=True, kw_only=True):
    """Some ``words`` of a text and what they were read as: a field, and its value in words."""

    words: str
    label: str
    value: str


def cards_of_text(drafts: Sequence[Draft], day: str) -> list[Card]:
    """A card for each draft of a paste."""
    seen: dict[str, int] = {}
    cards: list[Card] = []
    for draft in drafts:
        seen[draft.text] = seen.get(draft.text, 0) + 1
        key = _key("p", day, draft.text, str(seen[draft.text]))
        cards.append(Card(key=key, kind=_kind_of(draft), draft=draft))
    return cards


def cards_of_codes(codes: Iterable[Code], today: str, snapshot: Snapshot) -> list[Card]:
    """A card for each coupon code, with how it stands today and in the binder."""
    currency = snapshot.settings.currency
    cards: list[Card] = []
    for code in codes:
        if code.coupon is None:
            continue
        standing = standing_in(code.coupon, today, snapshot.coupons)
        id = id_of_code(code.coupon)
        draft = draft_coupon(code.coupon, currency)
        cards.append(
            Card(
                key=_key("c", code.coupon.digits),
                kind="coupon",
                draft=draft,
                ways=_ways(draft),
                words=describe(code.coupon, currency),
                minds=standing.sentences,
                there=id if id in snapshot.coupons else "",
                companies=tuple(dict.fromkeys(bought.company for bought in code.coupon.purchases)),
                id=id,
            )
        )
    return cards


def first_values(card: Card, snapshot: Snapshot, written: Written) -> Values:
    """What a card's fields hold before anything was typed: what was read, and products that fit it surely."""
    offer, key = card.draft.offer, card.key
    values: Values = {
        f"{key}-from_date": [offer.from_date or ""],
        f"{key}-until": [offer.until or ""],
    }
    sure = _surely(card, snapshot)
    for name in card.choosers:
        values[name] = [product.id for product in sure]
    match offer:
        case CouponDraft():
            values |= {
                f"{key}-issuer": [offer.issuer or ""],
                f"{key}-form": [offer.form or ""],
                f"{key}-copies": [str(1 if offer.copies is None else offer.copies)],
                f"{key}-where": [offer.where],
            }
        case DealDraft(cents=None, deal=NForM(n=n, cents=cents, must_buy=False)):
            values[f"{key}-cents"] = [written(-(-cents // n))]
        case DealDraft(cents=cents) | RewardDraft(cents=cents):
            values[f"{key}-cents"] = [] if cents is None else [written(cents)]
        case PercentDraft():
            pass
    return values


def choosers_of(card: Card, typed: Typed, snapshot: Snapshot) -> dict[str, Chooser]:
    """A card's lists of products; as long as nothing is typed they propose what its words may mean."""
    lists: dict[str, Chooser] = {}
    for name in card.choosers:
        shown = chooser(name, typed, snapshot.products)
        if not shown.words:
            chosen = {product.id for product in shown.chosen}
            proposed = [product for product in _proposed(card, snapshot) if product.id not in chosen]
            shown = msgspec.structs.replace(shown, found=proposed[:MOST_SHOWN], total=len(proposed))
        lists[name] = shown
    return lists


def read_as(card: Card, today: str) -> list[ReadAs]:
    """What each part of the text was read as."""
    return [
        ReadAs(
            words=reading.words,
            label="" if reading.field == "offer" else label_of(card.kind, reading.field).replace("_", " "),
            value=_value(reading.field, getattr(card.draft.offer, reading.field, None), today),
        )
        for reading in card.draft.read
    ]


def with_way(card: Card, way: int) -> Card:
    """The card with another of the sets of requirements that will do (0: the first)."""
    offer = card.draft.offer
    if not isinstance(offer, CouponDraft) or not 1 <= way <= len(offer.other_ways):
        return card
    asks = offer.other_ways[way - 1]
    draft = msgspec.structs.replace(card.draft, offer=msgspec.structs.replace(offer, asks=asks))
    return msgspec.structs.replace(card, draft=draft)


def _proposed(card: Card, snapshot: Snapshot) -> list[Product]:
    if card.companies:
        return made_by(card.companies, snapshot.products)
    return likely(card.draft.words, snapshot.products)


def _surely(card: Card, snapshot: Snapshot) -> list[Product]:
    """The one product that has all of the words; several only where the text says that any will do."""
    if card.companies:
        return []
    fits = fitting(card.draft.words, snapshot.products)
    several = any(sign in " ".join(card.draft.words).lower() for sign in _VARIETY)
    return fits if len(fits) == 1 or (several and len(fits) <= MOST_SURE) else []


def _ways(draft: Draft) -> tuple[str, ...]:
    offer = draft.offer
    if not isinstance(offer, CouponDraft) or not offer.other_ways:
        return ()
    return tuple(
        " and ".join(f"{asked.units} of {asked.of}" for asked in way)
        for way in (offer.asks, *offer.other_ways)
    )


def _kind_of(draft: Draft) -> str:
    match draft.offer:
        case CouponDraft():
            return "coupon"
        case DealDraft():
            return "price"
        case PercentDraft():
            return "percent_offer"
        case RewardDraft():
            return "reward"


def _key(first: str, *parts: str) -> str:
    return first + hashlib.sha256("\n".join(parts).encode("utf-8", "replace")).hexdigest()[:10]


def _value(field: str, value: object, today: str) -> str:
    match value:
        case str() if field in ("from_date", "until"):
            return day_in_words(value, today)
        case bool():
            return "yes" if value else "no"
        case int() | str():
            return str(value)
        case _:
            return ""
