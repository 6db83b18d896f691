"""The household's records: kept in batches, found by words, taken back whole, never lost."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TypeVar

import pytest

from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    HouseRules,
    Product,
    ShelfPrice,
    Size,
    Store,
    Tax,
)
from counterfoil.home.household import Staple
from counterfoil.homes import Home, NotSound
from counterfoil.intake.bad_input import BadInput
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore

T = TypeVar("T")

ALDER = Store(id="alder", name="Alder Row Grocers")
OATS = Product(id="oats", description="Wickel rolled oats", size=Size(amount="500", unit="g"))
TAG = ShelfPrice(store="alder", product="oats", cents=349)
COUPON = Coupon(
    id="oats-50",
    description="50 cents off one Wickel oats",
    issuer="manufacturer",
    form="insert",
    gives=CentsOff(cents=50),
    asks=(Asks(products=("oats",)),),
    until="2026-12-31",
)


def with_home(folder: Path, work: Callable[[Home], Awaitable[T]]) -> T:
    """The answer of ``work`` over a household kept in ``folder``."""

    async def run() -> T:
        store = SqliteStore(folder)
        await store.open()
        try:
            return await work(Home(SqliteRecords(store)))
        finally:
            await store.close()

    return asyncio.run(run())


def test_records_of_one_form_refer_to_each_other_and_are_kept_together(tmp_path: Path) -> None:
    async def work(home: Home) -> None:
        await home.save((ALDER, OATS, TAG, COUPON), words="Oats", device="desk")
        snapshot = await home.snapshot()
        assert snapshot.coupons["oats-50"] == COUPON
        assert snapshot.prices["alder:oats:"].cents == 349
        [batch] = await home.kept.batches()
        assert (batch.words, batch.records) == ("Oats", 4)

    with_home(tmp_path, work)


def test_one_unsound_record_keeps_all_of_its_batch_out_and_is_named_by_place_and_field(
    tmp_path: Path,
) -> None:
    async def work(home: Home) -> None:
        with pytest.raises(NotSound) as found:
            await home.save((ALDER, COUPON), words="A coupon for what is not here", device="desk")
        [misfit] = found.value.misfits
        assert (misfit.place, misfit.field, misfit.value) == (1, "asks[0].products[0]", "oats")
        assert (await home.snapshot()).stores == {}

    with_home(tmp_path, work)


def test_a_standing_tag_may_lie_under_a_dated_one_but_two_dated_ones_may_not_meet(tmp_path: Path) -> None:
    sale = ShelfPrice(store="alder", product="oats", cents=250, from_date="2026-12-01", until="2026-12-07")
    later = ShelfPrice(store="alder", product="oats", cents=240, from_date="2026-12-05", until="2026-12-12")

    async def work(home: Home) -> None:
        await home.save((ALDER, OATS, TAG), words="Oats", device="desk")
        await home.save((sale,), words="A sale", device="desk")
        with pytest.raises(NotSound, match="give them dates that do not meet"):
            await home.save((later,), words="Another sale", device="desk")

    with_home(tmp_path, work)


def test_a_staple_is_measured_in_what_its_products_are_sold_by(tmp_path: Path) -> None:
    async def work(home: Home) -> None:
        await home.save((OATS,), words="Oats", device="desk")
        with pytest.raises(NotSound) as found:
            await home.save(
                (Staple(id="breakfast", name="Breakfast", products=("oats",), per="fl-oz"),),
                words="Breakfast",
                device="desk",
            )
        assert found.value.misfits[0].field == "products[0]"
        assert "sold by 500 g" in found.value.misfits[0].mend

    with_home(tmp_path, work)


def test_a_change_made_to_an_older_revision_is_refused_and_loses_nothing(tmp_path: Path) -> None:
    dearer = Product(id="oats", description="Wickel rolled oats, new recipe")

    async def work(home: Home) -> None:
        await home.save((OATS,), words="Oats", device="desk", revisions={("product", "oats"): 0})
        await home.save((dearer,), words="New recipe", device="phone", revisions={("product", "oats"): 1})
        with pytest.raises(BadInput, match="changed meanwhile"):
            await home.save((OATS,), words="Late", device="desk", revisions={("product", "oats"): 1})
        assert (await home.snapshot()).products["oats"] == dearer

    with_home(tmp_path, work)


def test_a_batch_is_taken_back_whole_unless_somebody_went_on_from_it(tmp_path: Path) -> None:
    async def work(home: Home) -> None:
        await home.save((ALDER, OATS), words="Basics", device="desk")
        offer = await home.save((TAG, COUPON), words="This week", device="desk")
        undone = await home.take_back(offer, device="desk")
        snapshot = await home.snapshot()
        assert (dict(snapshot.prices), dict(snapshot.coupons)) == ({}, {})
        await home.take_back(undone, device="desk")
        assert (await home.snapshot()).coupons["oats-50"] == COUPON
        await home.remove("coupon", "oats-50", device="desk")
        with pytest.raises(BadInput, match="removed meanwhile"):
            await home.take_back(undone + 1, device="desk")
        versions = await home.kept.versions("coupon", "oats-50")
        assert [document is None for *_, document in versions] == [True, False, True, False]

    with_home(tmp_path, work)


def test_what_is_still_named_cannot_be_removed_and_the_mend_says_by_what(tmp_path: Path) -> None:
    async def work(home: Home) -> None:
        await home.save((ALDER, OATS, TAG, COUPON), words="Oats", device="desk")
        with pytest.raises(BadInput) as found:
            await home.remove("product", "oats", device="desk")
        assert "50 cents off one Wickel oats" in found.value.findings[0].mend
        assert await home.remove("coupon", "oats-50", device="desk") > 0

    with_home(tmp_path, work)


def test_a_search_finds_a_tag_by_the_names_of_its_product_and_store(tmp_path: Path) -> None:
    async def work(home: Home) -> None:
        await home.save((ALDER, OATS, TAG, COUPON), words="Oats", device="desk")
        found = await home.kept.records("price", search="ROLLED alder")
        assert [record.id for record in found.records] == ["alder:oats:"]
        assert (await home.kept.records("price", search="barley")).total == 0

    with_home(tmp_path, work)


def test_saving_what_is_there_already_makes_no_batch(tmp_path: Path) -> None:
    async def work(home: Home) -> None:
        assert await home.save((ALDER,), words="A store", device="desk") == 1
        assert await home.save((ALDER,), words="The same store", device="desk") == 0

    with_home(tmp_path, work)


def test_a_record_that_takes_anothers_place_comes_and_goes_in_one_batch(tmp_path: Path) -> None:
    sale = ShelfPrice(store="alder", product="oats", cents=250, from_date="2026-12-01", until="2026-12-07")
    mended = ShelfPrice(store="alder", product="oats", cents=250, from_date="2026-12-02", until="2026-12-07")

    async def work(home: Home) -> None:
        await home.save((ALDER, OATS, sale), words="A sale", device="desk")
        batch = await home.save(
            (mended,), words="Another day", device="desk", replaced=[("price", "alder:oats:2026-12-01")]
        )
        assert list((await home.snapshot()).prices) == ["alder:oats:2026-12-02"]
        await home.take_back(batch, device="desk")
        assert list((await home.snapshot()).prices) == ["alder:oats:2026-12-01"]

    with_home(tmp_path, work)


def test_defaults_that_were_typed_out_are_no_change(tmp_path: Path) -> None:
    spelt_out = Store(id="alder", name="Alder Row Grocers", rules=HouseRules(), tax=Tax(rates={}))

    async def work(home: Home) -> None:
        await home.save((ALDER,), words="A store", device="desk")
        assert await home.save((spelt_out,), words="The same, in full", device="desk") == 0

    with_home(tmp_path, work)


def test_a_record_that_its_own_type_refuses_is_never_kept(tmp_path: Path) -> None:
    async def work(home: Home) -> None:
        with pytest.raises(NotSound) as found:
            await home.save(
                (ALDER, Product(id="oats", description="x" * 401)), words="Too long", device="desk"
            )
        [misfit] = found.value.misfits
        assert (misfit.place, misfit.field) == (1, "description")
        assert "at most 400 characters" in misfit.mend

    with_home(tmp_path, work)
