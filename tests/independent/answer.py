"""What the second opinion says about a trip, asked in a process of its own.

OR-Tools brings a HiGHS library under the name of highspy's, and one process cannot load both, so
CP-SAT runs in worker processes and only this file is imported beside the engine.
"""

from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import msgspec

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Transaction


class NotProven(Exception):
    """CP-SAT ran out of its time before it could prove its answer."""


@dataclass(frozen=True)
class Best:
    """``missing`` needed units; ``value`` in cents (worth less net cost less the prices of further
    transactions and of stores); ``units`` bought; ``cash`` put down, if asked for. ``words``: how."""

    missing: int
    value: int
    units: int
    cash: int | None
    transactions: int | None
    papers: bytes


@dataclass(frozen=True)
class Figures:
    """One receipt in cents. ``paid``: per unit in belt order, before tax; ``benefits``: what food benefits
    pay; ``cash`` put down; ``earned``: by reward."""

    paid: tuple[int, ...]
    tax: int
    benefits: int
    cash: int
    earned: dict[str, int]


def ask(trip: bytes, seconds: float) -> Best | None:
    """``best_value`` (with the cash) of a trip as JSON; None when it was not proven in time."""
    from .best_value import best_value

    try:
        return best_value(msgspec.json.decode(trip, type=Trip), cash=True, seconds=seconds)
    except NotProven:
        return None


def ask_register(transaction: bytes) -> Figures | None:
    """``second_receipt`` of a transaction as JSON."""
    from .second_receipt import second_receipt

    return second_receipt(msgspec.json.decode(transaction, type=Transaction))


def processes(workers: int) -> ProcessPoolExecutor:
    """Processes that ``ask`` may run in: started afresh, with nothing loaded."""
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn"))
