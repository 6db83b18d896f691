"""What the stores of a trip sell on its day: one tag for each store and product, less what she forbade."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from ..engine.offers import GiftCard, Product, ShelfPrice, Slip, Store, Wallet
from ..engine.shelf import holds_on, tag_in_force
from .household import TripDraft
from .left_out import SHARED_TAG, LeftOut


def tag_of_the_day(tags: Iterable[ShelfPrice], store: str, product: str, day: str) -> ShelfPrice | None:
    """The tag that holds: a dated one goes before one that stands until further notice."""
    mine = [tag for tag in tags if tag.store == store and tag.product == product]
    dated = [tag for tag in mine if tag.from_date is not None or tag.until is not None]
    return tag_in_force(dated, store, product, day) or tag_in_force(mine, store, product, day)


class ShelfOfTheDay:
    """The tags of the day at the stores of the trip, less what she forbade.

    A channel whose store she does not go to is on its own: it takes over the store's tags, slips and
    gift cards, since there is nothing to share them with.
    """

    def __init__(
        self,
        products: Mapping[str, Product],
        prices: Iterable[ShelfPrice],
        stores: list[Store],
        draft: TripDraft,
        wallet: Wallet,
        left_out: LeftOut,
    ) -> None:
        self._products = products
        self._left_out = left_out
        self._channels = {store.id: store.channel_of for store in stores if store.channel_of}
        going = {store.id for store in stores}
        self._alone = {store: parent for store, parent in self._channels.items() if parent not in going}
        self._tags: dict[str, dict[str, ShelfPrice]] = {}
        by_product: dict[str, list[ShelfPrice]] = {}
        for tag in prices:
            by_product.setdefault(tag.product, []).append(tag)
        for product, tags in by_product.items():
            found = ((store.id, tag_of_the_day(tags, store.id, product, draft.day)) for store in stores)
            at = {store: tag for store, tag in found if tag is not None}
            for store, parent in self._alone.items():
                theirs = tag_of_the_day(tags, parent, product, draft.day)
                if store not in at and theirs is not None:
                    at[store] = msgspec.structs.replace(theirs, store=store)
            self._tags[product] = at
        self.wallet = self._taken_over(wallet)
        self._rain_checks = {
            (check.store, check.product)
            for check in self.wallet.rain_checks
            if check.store in going and holds_on(draft.day, None, check.until)
        }
        for each in draft.forbidden:
            if each.what == "product":
                self._forbid(each.id, each.store)

    def _taken_over(self, wallet: Wallet) -> Wallet:
        heirs = {parent: store for store, parent in self._alone.items()}

        def slip(each: Slip) -> Slip:
            return msgspec.structs.replace(each, store=heirs.get(each.store, each.store))

        def card(each: GiftCard) -> GiftCard:
            return msgspec.structs.replace(each, store=heirs.get(each.store, each.store))

        return msgspec.structs.replace(
            wallet,
            slips=tuple(slip(each) for each in wallet.slips),
            gift_cards=tuple(card(each) for each in wallet.gift_cards),
        )

    def _forbid(self, product: str, store: str | None) -> None:
        """At one store, or anywhere. What a channel has by its store's tag goes with that tag."""
        at = self._tags.get(product, {})
        name = self._products[product].description if product in self._products else product
        if store is None:
            gone = set(at)
        else:
            gone = {store}
            parent = self._channels.get(store)
            if store not in at and parent in at:
                gone.add(parent)
                self._left_out.add("product", name, SHARED_TAG)
        for channel, parent in self._channels.items():
            # The channel keeps selling it, by a tag of its own.
            if store is not None and parent in gone and channel not in gone and channel not in at:
                at[channel] = msgspec.structs.replace(at[parent], store=channel)
        self._tags[product] = {place: tag for place, tag in at.items() if place not in gone}
        spots = {spot for spot in self._rain_checks if spot[1] == product and store in (None, spot[0])}
        self._rain_checks -= spots
        self.wallet = msgspec.structs.replace(
            self.wallet,
            rain_checks=tuple(
                check for check in self.wallet.rain_checks if (check.store, check.product) not in spots
            ),
        )

    def sells(self, product: str) -> bool:
        """Whether any store of the trip has it on the day."""
        return bool(self._tags.get(product)) or any(spot[1] == product for spot in self._rain_checks)

    def sells_at(self, store: str, product: str) -> bool:
        """Whether this store has it on the day."""
        at = self._tags.get(product, {})
        return store in at or self._channels.get(store) in at or (store, product) in self._rain_checks

    def tags_of(self, product: str) -> Iterable[ShelfPrice]:
        """Its tags, one for each store that has one of its own."""
        return self._tags.get(product, {}).values()
