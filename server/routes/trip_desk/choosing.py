"""What the plan's page offers to pin or to leave out, grouped for a list to choose from."""

from __future__ import annotations

from collections.abc import Sequence

from ...engine.offers import Doc, Trip
from ...engine.situation import counter_at, is_sold
from ...home.draft_changes import Forbid
from ...home.household import Forbidden
from ..names import Names
from .plan_view import encode_change

Group = tuple[str, Sequence[tuple[str, str]]]  # a heading, and values with their words


class Spot(Doc, frozen=True, kw_only=True):
    """A product at a store, as the value of a choice."""

    store: str
    product: str


def things_to_pin(trip: Trip, names: Names) -> list[Group]:
    """By store, everything that it sells on the day."""
    return [
        (
            store.name,
            [
                (
                    encode_change(Spot(store=store.id, product=product.id)).decode(),
                    names.product(product.id),
                )
                for product in trip.products
                if is_sold(trip, counter_at(trip, store), product.id)
            ],
        )
        for store in trip.stores
    ]


def things_to_forbid(trip: Trip, names: Names) -> list[Group]:
    """Coupons, offers, rewards, rebates, and goods anywhere."""

    def value(thing: Forbidden) -> str:
        return encode_change(Forbid(thing=thing)).decode()

    groups: list[Group] = [
        (
            "Coupons",
            [(value(Forbidden(what="coupon", id=each.id)), each.description) for each in trip.coupons],
        ),
        (
            "Percent offers",
            [
                (value(Forbidden(what="percent_offer", id=each.id)), each.description)
                for each in trip.percent_offers
            ],
        ),
        (
            "Rewards",
            [(value(Forbidden(what="reward", id=each.id)), each.description) for each in trip.rewards],
        ),
        (
            "Rebates",
            [(value(Forbidden(what="rebate", id=each.id)), each.description) for each in trip.rebates],
        ),
        (
            "Goods, anywhere",
            [
                (value(Forbidden(what="product", id=each.id)), names.product(each.id))
                for each in trip.products
            ],
        ),
    ]
    return [group for group in groups if group[1]]
