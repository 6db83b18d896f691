"""The binder, a page at a time: its coupons by form, those that words find, fifty to a page."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Literal, get_args

import msgspec

from ..engine.offers import Coupon
from .binder import FORMS, Binder, InHand

ON_A_PAGE = 50
PartName = Literal["insert", "printable", "digital", "on_package", "register", "none_left", "expired"]
PARTS: tuple[PartName, ...] = get_args(PartName)
TITLES: Mapping[PartName, str] = {**FORMS, "none_left": "No copy left", "expired": "Expired: do not use"}


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """Coupons of one form, or with no copy left, or expired: ``held`` of the ``total`` that were found, on
    ``page`` of ``pages``."""

    name: PartName
    held: tuple[InHand, ...]
    total: int
    page: int
    pages: int

    @property
    def title(self) -> str:
        """What heads it."""
        return TITLES[self.name]


def parts_of(
    binder: Binder,
    line_of: Callable[[Coupon], str],
    *,
    search: str = "",
    only: str = "",
    page: int = 1,
) -> list[Part]:
    """The parts with a coupon that has all words of ``search`` in its line, in the binder's order.

    ``line_of``: what is said of a coupon, to search in. ``only``: the one part to show, ``page`` of it (the
    last one where there are fewer); else the first page of each.
    """
    words = search.lower().split()
    shown: list[Part] = []
    for name, all_of_it in _all(binder):
        if only in PARTS and name != only:
            continue
        found = [held for held in all_of_it if _has(line_of(held.coupon).lower(), words)]
        if not found:
            continue
        pages = -(-len(found) // ON_A_PAGE)
        at = min(max(page, 1), pages) if name == only else 1
        shown.append(
            Part(
                name=name,
                held=tuple(found[(at - 1) * ON_A_PAGE : at * ON_A_PAGE]),
                total=len(found),
                page=at,
                pages=pages,
            )
        )
    return shown


def _all(binder: Binder) -> Iterator[tuple[PartName, Sequence[InHand]]]:
    yield from binder.in_hand.items()
    yield "none_left", binder.none_left
    yield "expired", binder.expired


def _has(line: str, words: Sequence[str]) -> bool:
    return all(word in line for word in words)
