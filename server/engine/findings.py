"""The shape of a finding, and the records of a document with their paths in it.

``check.py`` tells what is checked; ``references.py`` and ``records.py`` hold the checks that a
trip and a transaction share. Each check takes ``Papers`` and yields a ``Problem`` per finding.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from typing import TypeVar

import msgspec

from .offers import (
    Coupon,
    GiftCard,
    PercentOffer,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Slip,
    Store,
    Want,
)


class Problem(msgspec.Struct, frozen=True):
    """One finding: the path of the ``field``, the ``value`` found there, the ``mend`` in words."""

    field: str
    value: str
    mend: str


class Papers(msgspec.Struct, frozen=True, kw_only=True):
    """A trip's or a transaction's records, each with its path, so that one check serves both.

    ``whole``: a trip holds every record that another one may name. A transaction holds what lies
    on its belt; a coupon in it may name goods and stores that are not there.
    """

    whole: bool
    stores: Sequence[tuple[str, Store]]
    products: Sequence[tuple[str, Product]]
    prices: Sequence[tuple[str, ShelfPrice]]
    coupons: Sequence[tuple[str, Coupon]]
    percent_offers: Sequence[tuple[str, PercentOffer]]
    rewards: Sequence[tuple[str, RewardOffer]]
    rain_checks: Sequence[tuple[str, RainCheck]]
    wants: Sequence[tuple[str, Want]] = ()
    rebates: Sequence[tuple[str, Rebate]] = ()
    set_bonuses: Sequence[tuple[str, SetBonus]] = ()
    slips: Sequence[tuple[str, Slip]] = ()
    gift_cards: Sequence[tuple[str, GiftCard]] = ()


_Record = TypeVar("_Record")


def numbered(section: str, records: Sequence[_Record]) -> list[tuple[str, _Record]]:
    return [(f"{section}[{index}]", record) for index, record in enumerate(records)]


def known(path: str, named: str, ids: Set[str], kind: str) -> Iterator[Problem]:
    if named not in ids:
        yield Problem(path, named, f"there is no {kind} with this id: add it, or name one that is there")


def all_known(path: str, named: Sequence[str], ids: Set[str], kind: str) -> Iterator[Problem]:
    for index, one in enumerate(named):
        yield from known(f"{path}[{index}]", one, ids, kind)


def named_once(path: str, named: Sequence[str]) -> Iterator[Problem]:
    for index, one in enumerate(named):
        if one in named[:index]:
            yield Problem(f"{path}[{index}]", one, "name it once only")
