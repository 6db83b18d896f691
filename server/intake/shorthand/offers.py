"""Which offer stands at a place of a line: the patterns in order, what is written longer first."""

from __future__ import annotations

from collections.abc import Callable

from .free import buy_get_free, free_item
from .hits import Hit
from .off import buy_save, money_off, percent_off
from .prices import n_for_m, price
from .rewards import buy_get_reward, reward_first, spend_get
from .tokens import Stream

PATTERNS: tuple[Callable[[Stream, int], Hit | None], ...] = (
    buy_get_reward,
    spend_get,
    reward_first,
    buy_save,
    buy_get_free,
    money_off,
    percent_off,
    free_item,
    n_for_m,
    price,
)


def offer_at(stream: Stream, at: int) -> Hit | None:
    """The offer that the first fitting pattern reads at a place, None if there is none."""
    for pattern in PATTERNS:
        if hit := pattern(stream, at):
            return hit
    return None
