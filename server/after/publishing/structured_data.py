"""The deals as schema.org data (JSON-LD), for programs that read the page.

One ``Product`` per product of the plan with an ``AggregateOffer`` over its stores. An ``Offer`` tells what
the store asks on its tag, with the tag's dates; the deal's net stands beside it as a
``UnitPriceSpecification`` of its own, exact for the units together. Vocabulary: https://schema.org/Offer,
https://schema.org/AggregateOffer, https://schema.org/UnitPriceSpecification.
"""

from __future__ import annotations

import json
from typing import Any

from ...engine.offers import Product, Trip
from ...engine.papers import Deal
from ...engine.situation import tag_at
from .articles import Article

Node = dict[str, Any]


def json_ld(article: Article) -> str:
    """The data block's text. No "<" in it, which could end the block, nor "&" or ">"."""
    trip = article.trip
    of_product: dict[str, list[Deal]] = {}
    for deal in article.plan.deals:
        of_product.setdefault(deal.product, []).append(deal)
    products = {product.id: product for product in trip.products}
    graph = [_product(trip, products[name], deals) for name, deals in of_product.items()]
    text = json.dumps({"@context": "https://schema.org", "@graph": graph}, ensure_ascii=False)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def decimal(cents: int, exponent: int) -> str:
    """Cents as schema.org wants a price: digits with a point, no symbol; -5 at exponent 2 is "-0.05"."""
    digits = str(abs(cents)).rjust(exponent + 1, "0")
    whole, part = (digits[:-exponent], digits[-exponent:]) if exponent else (digits, "")
    return f"{'-' if cents < 0 else ''}{whole}{'.' if part else ''}{part}"


def _product(trip: Trip, product: Product, deals: list[Deal]) -> Node:
    offers = [_offer(trip, product, deal) for deal in deals]
    asked = [_tag_cents(trip, deal) for deal in deals]
    node: Node = {
        "@type": "Product",
        "name": product.description,
        "offers": {
            "@type": "AggregateOffer",
            "priceCurrency": trip.currency,
            "lowPrice": decimal(min(asked), trip.exponent),
            "highPrice": decimal(max(asked), trip.exponent),
            "offerCount": len(offers),
            "offers": offers,
        },
    }
    if product.category:
        node["category"] = product.category
    if product.gtin:
        node["gtin"] = product.gtin
    return node


def _tag_cents(trip: Trip, deal: Deal) -> int:
    store = next(each for each in trip.stores if each.id == deal.store)
    tag = tag_at(trip, store, deal.product)
    return deal.tag_cents // deal.units if tag is None else tag.cents


def _offer(trip: Trip, product: Product, deal: Deal) -> Node:
    store = next(each for each in trip.stores if each.id == deal.store)
    tag = tag_at(trip, store, product.id)
    node: Node = {
        "@type": "Offer",
        "price": decimal(_tag_cents(trip, deal), trip.exponent),
        "priceCurrency": trip.currency,
        "seller": {"@type": "Store", "name": store.name},
        "priceSpecification": [
            {
                "@type": "UnitPriceSpecification",
                "name": "Net of the units together, after coupons, tax, rewards and rebates",
                "price": decimal(deal.net_cents, trip.exponent),
                "priceCurrency": trip.currency,
                "referenceQuantity": {
                    "@type": "QuantitativeValue",
                    "value": deal.units,
                    "unitText": "packs",
                },
            }
        ],
    }
    if tag is not None and tag.from_date:
        node["validFrom"] = tag.from_date
    if tag is not None and tag.until:
        node["validThrough"] = tag.until
        node["priceValidUntil"] = tag.until
    return node
