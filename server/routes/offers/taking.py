"""From a card to records: what she said of it, joined with what was read; or every field that is missing."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from ...engine.offers import BuyOneGetOne, Form, Issuer, ShelfPrice
from ...home.kinds import Record, id_of
from ...home.naming import id_from
from ...homes import Snapshot
from ...intake.bad_input import Finding
from ...intake.confirming import confirm_coupon, confirm_percent_offer, confirm_price, confirm_reward
from ...intake.drafts import CouponDraft, DealDraft, PercentDraft, RewardDraft
from .cards import Card
from .forms.coupons import fill_gives
from .forms.form import Written, optional, texts, written_percent
from .forms.goods import goods, saying_of
from .forms.sheet import Sheet, Values
from .forms.tags import THERE

COMMON = ("store", "issuer", "form")  # fields that hold for every card, unless it says otherwise
ISSUERS: Sequence[Issuer | str] = ("", "manufacturer", "store")
FORMS: Sequence[Form | str] = ("", "insert", "printable", "digital", "on_package", "register")


def take(card: Card, sheet: Sheet) -> Sequence[Record]:
    """The records that a card becomes; what is missing is left as findings in the sheet's fields."""
    fields, key = sheet.fields, card.key
    offer = msgspec.structs.replace(
        card.draft.offer, from_date=fields.day(f"{key}-from_date"), until=fields.day(f"{key}-until")
    )
    everything = card.may_be_everything and fields.flag(f"{key}-everything")
    products = [sheet.products(name) for name in card.choosers]
    if everything and any(products):
        fields.wrong(card.choosers[0], "either the chosen products, or everything", "both")
    match offer:
        case CouponDraft():
            return _coupon(card, offer, sheet, products, everything=everything)
        case DealDraft():
            return _tags(card, offer, sheet, products[0])
        case PercentDraft():
            store = _store(card, sheet)
            found = confirm_percent_offer(
                offer,
                id=_id(card, sheet, "percent-offer"),
                store=store,
                description=_description(card, sheet, products[0]),
                products=products[0],
                everything=everything,
            )
            return _or_note(card, sheet, found)
        case RewardDraft():
            store = _store(card, sheet)
            found = confirm_reward(
                offer,
                id=_id(card, sheet, "reward"),
                store=store,
                description=_description(card, sheet, products[0]),
                products=products[0],
                cents=fields.cents(f"{key}-cents", least=1),
            )
            return _or_note(card, sheet, found)


def as_form(card: Card, sheet: Sheet, written: Written) -> Values:
    """The card as its kind's whole form shows it, with what was typed on the card."""
    fields, key, offer = sheet.fields, card.key, card.draft.offer
    typed = fields.typed
    values: Values = texts(
        from_date=typed[f"{key}-from_date"],
        until=typed[f"{key}-until"],
        store=typed[f"{key}-store"] or typed["store"],
        everything=typed[f"{key}-everything"],
        description=typed[f"{key}-description"],
    )
    for leg, name in enumerate(card.choosers):
        coupon = isinstance(offer, CouponDraft)
        values[f"products-{leg}" if coupon else "products"] = list(typed.all(name))
    match offer:
        case CouponDraft():
            may = offer.may_multiply is not False
            values |= {
                **fill_gives(offer.gives, written),
                **texts(
                    issuer=typed[f"{key}-issuer"] or typed["issuer"],
                    form=typed[f"{key}-form"] or typed["form"],
                    copies=typed[f"{key}-copies"],
                    where=typed[f"{key}-where"],
                    legible=offer.legible,
                    may_multiply="yes" if may else "",
                ),
                "stores": list(typed.all(f"{key}-stores")),
                "legs": [str(len(offer.asks))],
                "per_transaction": optional(offer.per_transaction),
                "per_day": optional(offer.per_day),
                "per_household": optional(offer.per_household),
                **{f"units-{leg}": [str(asked.units)] for leg, asked in enumerate(offer.asks)},
            }
            if typed[f"{key}-everything"]:
                values["everything-0"] = ["yes"]
        case DealDraft():
            regular = [] if offer.regular_cents is None else [written(offer.regular_cents)]
            values |= {"cents": [typed[f"{key}-cents"]], "regular": regular, "kind": ["sale"]}
            values |= {
                "per_transaction": optional(offer.per_transaction),
                "per_visit": optional(offer.per_visit),
            }
            match offer.deal:
                case BuyOneGetOne(off_bp=off_bp):
                    values |= {"deal": ["buy_one_get_one"], "off": [written_percent(off_bp)]}
                case None:
                    pass
                case deal:
                    values |= {"deal": ["n_for_m"], "n": [str(deal.n)], "m": [written(deal.cents)]}
                    values |= {"must_buy": ["yes"]} if deal.must_buy else {}
        case PercentDraft():
            values["percent"] = [written_percent(offer.bp)]
            values["units_per_transaction"] = optional(offer.units_per_transaction)
        case RewardDraft():
            spend = offer.by == "spend"
            values |= {
                "kind": [offer.reward],
                "by": [offer.by],
                "threshold-0": [written(offer.threshold) if spend else str(offer.threshold)],
                "back-0": [typed[f"{key}-cents"]],
                "rolls": [] if offer.rolls is False else ["yes"],
                "per_transaction": optional(offer.per_transaction or 1),
                "per_household": optional(offer.per_household),
                "valid_days": ["14"],
            }
    return values


# --- kind by kind -----------------------------------------------------------------------


def _coupon(
    card: Card, offer: CouponDraft, sheet: Sheet, products: Sequence[Sequence[str]], *, everything: bool
) -> Sequence[Record]:
    fields, key = sheet.fields, card.key
    copies = fields.whole(f"{key}-copies")
    issuer = fields.choice(f"{key}-issuer", ISSUERS) or fields.choice("issuer", ISSUERS)
    form = fields.choice(f"{key}-form", FORMS) or fields.choice("form", FORMS)
    stores = sheet.stores(f"{key}-stores")
    common = fields.known("store", sheet.snapshot.stores, what="store")
    if issuer == "store" and not stores and common:
        stores = (common,)
    offer = msgspec.structs.replace(
        offer,
        issuer=issuer or None,
        form=form or None,
        copies=offer.copies if copies is None else copies,
        where=fields.text(f"{key}-where"),
    )
    found = confirm_coupon(
        offer,
        id=card.id or _id(card, sheet, "coupon"),
        description=_description(card, sheet, [product for each in products for product in each]),
        products=products,
        stores=stores,
    )
    if card.may_be_everything and not everything and not any(products):
        fields.wrong(card.choosers[0], "choose the products, or say that everything counts", "nothing")
    return _or_note(card, sheet, found)


def _tags(card: Card, offer: DealDraft, sheet: Sheet, products: Sequence[str]) -> Sequence[Record]:
    fields, key = sheet.fields, card.key
    store = _store(card, sheet)
    cents = fields.cents(f"{key}-cents")
    if isinstance(offer.deal, BuyOneGetOne) and (offer.mixes or len(products) > 1):
        # "Any of these": the tags of one line pair with each other.
        offer = msgspec.structs.replace(offer, deal=msgspec.structs.replace(offer.deal, mix=key))
    tags: list[Record] = []
    for product in products:
        standing = _standing(sheet.snapshot, store, product)
        price = cents if cents is not None else standing
        # What was read stands in the field: an empty field means that it shall not hold.
        found = confirm_price(
            msgspec.structs.replace(offer, cents=None), store=store, product=product, cents=price
        )
        if isinstance(found, ShelfPrice):
            if id_of(found) in sheet.snapshot.prices:
                fields.wrong(f"{key}-from_date", THERE, found.from_date or "no first day")
            tags.append(found)
        else:
            _note(card, sheet, found)
            break
    if not products:
        _note(card, sheet, (Finding(field="products", value="nothing", mend="choose the products"),))
    return tags


def _standing(snapshot: Snapshot, store: str, product: str) -> int | None:
    """What the product costs there without a sale, where that is known."""
    tag = snapshot.prices.get(f"{store}:{product}:")
    return None if tag is None else tag.cents


def _store(card: Card, sheet: Sheet) -> str:
    fields, there = sheet.fields, sheet.snapshot.stores
    store = fields.known(f"{card.key}-store", there, what="store") or fields.known(
        "store", there, what="store"
    )
    if store is None:
        fields.wrong(f"{card.key}-store", "choose the store, here or above for all", "nothing")
    return store or ""


def _description(card: Card, sheet: Sheet, products: Sequence[str]) -> str:
    typed = sheet.fields.text(f"{card.key}-description")
    if typed:
        return typed
    saying = saying_of(sheet)
    said = saying.draft(card.draft.offer).partition(": ")[2]
    return f"{said}: {goods(saying, products)}"[:400]


def _id(card: Card, sheet: Sheet, kind: str) -> str:
    """Of the key, so that the same card cannot be taken twice."""
    return f"{id_from(' '.join(card.draft.words)[:40], (), kind)}-{card.key}"


def _or_note(card: Card, sheet: Sheet, found: Record | tuple[Finding, ...]) -> Sequence[Record]:
    if isinstance(found, tuple):
        _note(card, sheet, found)
        return ()
    return (found,)


def _note(card: Card, sheet: Sheet, findings: Sequence[Finding]) -> None:
    """Notes findings of the engine's fields by the card's; of one list of products one is enough."""
    noted = {found.field for found in sheet.fields.findings}
    for found in findings:
        field = field_on(card, found.field)
        if field not in noted:
            sheet.fields.wrong(field, found.mend, found.value)


def field_on(card: Card, path: str) -> str:
    """The field of a card that a path in its record means; the card itself for the others."""
    key = card.key
    if path.startswith("asks["):
        return f"{key}-products-{path[5]}"
    if path.startswith("products") or path == "product":
        return card.choosers[0]
    if path.endswith("cents") and card.kind in ("price", "reward"):
        return f"{key}-cents"
    name = path.partition("[")[0]
    if name in ("issuer", "form", "stores", "store", "from_date", "until", "copies"):
        return f"{key}-{name}"
    return f"{key}-from_date" if not path and card.kind == "price" else key
