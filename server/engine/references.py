"""Checks of identity: ids of one kind are unique, names lead somewhere, channels end at a store."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

from .findings import Papers, Problem, all_known, known, named_once


class _Named(Protocol):
    @property
    def id(self) -> str: ...


def _ids(papers: Papers) -> Iterator[Problem]:
    kinds: Sequence[Sequence[tuple[str, _Named]]] = (
        papers.stores,
        papers.products,
        papers.wants,
        papers.coupons,
        papers.percent_offers,
        papers.rewards,
        papers.rebates,
        papers.set_bonuses,
        papers.slips,
        papers.gift_cards,
        papers.rain_checks,
    )
    for records in kinds:
        owner: dict[str, str] = {}
        for path, record in records:
            if record.id in owner:
                yield Problem(f"{path}.id", record.id, f"give it another id: {owner[record.id]} has this one")
            owner.setdefault(record.id, path)


def _references(papers: Papers) -> Iterator[Problem]:
    stores = {store.id for _, store in papers.stores}
    products = {product.id for _, product in papers.products}
    for section in (papers.prices, papers.rain_checks):
        for path, record in section:
            yield from known(f"{path}.store", record.store, stores, "store")
            yield from known(f"{path}.product", record.product, products, "product")
    for section in (papers.percent_offers, papers.rewards, papers.slips, papers.gift_cards):
        for path, record in section:
            yield from known(f"{path}.store", record.store, stores, "store")
    if not papers.whole:
        return
    for path, store in papers.stores:
        if store.channel_of is not None:
            yield from known(f"{path}.channel_of", store.channel_of, stores, "store")
    for section in (papers.wants, papers.percent_offers, papers.rewards, papers.rebates):
        for path, record in section:
            yield from all_known(f"{path}.products", record.products, products, "product")
    for path, coupon in papers.coupons:
        yield from all_known(f"{path}.stores", coupon.stores, stores, "store")
        for leg, asks in enumerate(coupon.asks):
            yield from all_known(f"{path}.asks[{leg}].products", asks.products, products, "product")
    for path, rebate in papers.rebates:
        yield from all_known(f"{path}.stores", rebate.stores, stores, "store")
    rebates = {rebate.id for _, rebate in papers.rebates}
    for path, bonus in papers.set_bonuses:
        yield from all_known(f"{path}.rebates", bonus.rebates, rebates, "rebate")
        yield from named_once(f"{path}.rebates", bonus.rebates)
    slip_offers = {reward.id for _, reward in papers.rewards if reward.kind == "slip"}
    for path, slip in papers.slips:
        if slip.offer is not None:
            yield from known(f"{path}.offer", slip.offer, slip_offers, "reward offer that prints slips")


def _channels(papers: Papers) -> Iterator[Problem]:
    parent = {store.id: store.channel_of for _, store in papers.stores}
    for path, store in papers.stores:
        seen: set[str] = set()
        step = store.channel_of
        while step is not None and step not in seen and step != store.id:
            seen.add(step)
            step = parent.get(step)
        if step == store.id:
            mend = "the stores name each other in a circle: leave channel_of out at the main store"
            yield Problem(f"{path}.channel_of", str(store.channel_of), mend)
        elif step is None and len(seen) > 1:
            # Slips, gift cards and limits are shared with the store that is named, no further.
            mend = "it is a channel itself: name the store that it is a channel of"
            yield Problem(f"{path}.channel_of", str(store.channel_of), mend)


REFERENCE_CHECKS = (_ids, _references, _channels)
