"""A transaction whose units lie in an order that the register refuses is laid out anew, in both planners."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from playwright.sync_api import Page

from counterfoil.engine import packing, planner
from counterfoil.engine.offers import Trip
from tests.engine.vectors import vectors

STORY = vectors("trips")["the-free-one-of-two-with-a-rain-check-is-the-one-without-a-coupon"]


def trip() -> Trip:
    return msgspec.convert(STORY["trip"], Trip)


def test_the_planner_finds_the_order_that_the_register_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    packed = packing._lateness  # pyright: ignore[reportPrivateUsage]

    def turned(*asked: Any) -> tuple[bool, bool, int, int, str]:
        by_store, by_maker, group, part, key = packed(*asked)
        return (not by_store, by_maker, group, part, key)

    planner.forget()
    monkeypatch.setattr(packing, "_lateness", turned)
    plan = planner.plan(trip())
    planner.forget()

    assert plan.totals.paid_cents == 102
    assert plan.proof.optimal


def test_the_phones_register_says_which_order_it_refuses(module_page: Page) -> None:
    """Its planner asks ``reordering.js`` then, which finds the one that it takes."""
    refused, total = module_page.evaluate(
        """async (trip) => {
            const {plan} = await import('/web/engine/planner.js');
            const {price} = await import('/web/engine/register.js');
            const {cheapestOrder} = await import('/web/engine/reordering.js');
            const {loadSolver} = await import('/web/engine/solver.js');
            await loadSolver();
            const [{transaction}] = plan(trip, {entries: []}).transactions;
            const uses = transaction.uses.map((use) => (use.units.length === 1 ? {...use, units: [1]} : use));
            const turned = {...transaction, uses, tenders: [{kind: 'cash'}]};
            return [price(turned).sentence ?? '', price(cheapestOrder(turned)[0]).total_cents];
        }""",
        STORY["trip"],
    )
    assert "worth $0.30 more than is left" in refused
    assert total == 102
