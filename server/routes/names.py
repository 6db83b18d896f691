"""What things of a trip are called on a page; an id that the trip does not have stands for itself."""

from __future__ import annotations

from ..engine.money import show
from ..engine.offers import Trip


class Names:
    """Names of a trip's stores, products, wants and papers, and its money, shown exactly."""

    def __init__(self, trip: Trip) -> None:
        self._currency = trip.currency
        self._exponent = trip.exponent
        self._stores = {store.id: store.name for store in trip.stores}
        self._products = {product.id: product.description for product in trip.products}
        self._wants = {want.id: want.name or self.product(want.products[0]) for want in trip.wants}
        self._coupons = {coupon.id: coupon.description for coupon in trip.coupons}
        self._rewards = {reward.id: reward.description for reward in trip.rewards}
        self._rebates = {
            **{rebate.id: rebate.description for rebate in trip.rebates},
            **{bonus.id: bonus.description for bonus in trip.set_bonuses},
        }

    def money(self, cents: int) -> str:
        """Cents in the trip's currency: ``$2.37``."""
        return show(cents, self._currency, self._exponent)

    def store(self, store: str) -> str:
        """A store's name."""
        return self._stores.get(store) or store

    def product(self, product: str) -> str:
        """A product's description."""
        return self._products.get(product) or product

    def want(self, want: str) -> str:
        """A want's own name, or its first product's."""
        return self._wants.get(want) or want

    def coupon(self, coupon: str) -> str:
        """A coupon's description."""
        return self._coupons.get(coupon) or coupon

    def reward(self, offer: str) -> str:
        """A reward offer's description."""
        return self._rewards.get(offer) or offer

    def rebate(self, rebate: str) -> str:
        """A rebate's or set bonus's description."""
        return self._rebates.get(rebate) or rebate
