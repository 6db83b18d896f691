"""What is on offer gets in by forms: every record has one that keeps all of it, and every mistake is told
beside its field while nothing that was typed is lost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.engine.offers import (
    Asks,
    BasketOff,
    BuyOneGetOne,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    HouseRules,
    Multiplying,
    NForM,
    PercentOff,
    PercentOffer,
    Product,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Size,
    Store,
    Tax,
    Tier,
)
from counterfoil.home.kinds import KINDS, Record, kind_of
from counterfoil.homes import Snapshot, key_of
from counterfoil.intake.documents import read_trip
from counterfoil.routes.offers.forms import FORMS
from counterfoil.routes.offers.page import checked, sheet_of, written
from counterfoil.shipped import demo_folder

from .at_the_desk import ALDER, BIRCH, HONEY_OATS, OATS, SOAP, Desk, at_the_desk, typed, words

DOLLAR_OFF_TWO = Coupon(
    id="dollar-oats",
    description="$1.00 off two Wickel",
    issuer="manufacturer",
    form="insert",
    gives=CentsOff(cents=100, regional_cents={"coast": 75, "hill country": 50}),
    asks=(Asks(products=("oats", "honey-oats"), units=2), Asks(products=("soap",))),
    stores=("alder",),
    copies=3,
    per_transaction=2,
    per_day=4,
    per_household=6,
    from_date="2026-12-01",
    until="2026-12-31",
    may_multiply=False,
    where="Binder, page 4",
    legible="0614141-654321",
)


SHORT = Coupon(
    id="other",
    description="Another coupon",
    issuer="store",
    form="digital",
    gives=FreeItem(),
    asks=(Asks(products=("oats",)),),
    stores=("alder",),
)


def with_gives(gives: Any, **changed: Any) -> Coupon:
    return msgspec.structs.replace(SHORT, gives=gives, **changed)


REBATE = Rebate(
    id="oats-back",
    description="50 cents back",
    cents=50,
    products=("oats",),
    units=2,
    limit=3,
    stores=("birch",),
    from_receipt_cents=2_000,
    needs_receipt=False,
    deadline_days=10,
    from_date="2026-12-01",
    until="2026-12-20",
)
EVERY_FIELD: Sequence[Record] = (
    DOLLAR_OFF_TWO,
    with_gives(PercentOff(bp=1_250)),
    with_gives(FreeItem(off_bp=5_000, up_to_cents=499, leg=0)),
    with_gives(FreeItem()),
    with_gives(FixedPrice(cents=250)),
    with_gives(BasketOff(cents=500, from_cents=2_500, measure="after_store_coupons"), asks=(Asks(),)),
    with_gives(CentsOff(cents=5), copies=0, per_transaction=0, issuer="manufacturer", stores=()),
    ShelfPrice(
        store="alder",
        product="soap",
        cents=199,
        regular_cents=249,
        low_cents=179,
        high_cents=219,
        kind="sale",
        deal=NForM(n=3, cents=500, must_buy=True),
        from_date="2026-12-01",
        until="2026-12-12",
        place="Aisle 9",
        place_note="End cap",
        per_transaction=6,
        per_visit=12,
    ),
    ShelfPrice(store="alder", product="soap", cents=99, deal=BuyOneGetOne(off_bp=5_000, mix="bath")),
    ShelfPrice(store="alder", product="soap", cents=99, kind="clearance", deal=BuyOneGetOne()),
    PercentOffer(
        id="card-20",
        store="birch",
        description="20 % off one",
        bp=2_000,
        products=("oats",),
        units_per_transaction=1,
        transactions=2,
        from_date="2026-12-01",
        until="2026-12-31",
    ),
    PercentOffer(id="all-5", store="birch", description="5 % off everything", bp=500),
    RewardOffer(
        id="spend-40",
        store="birch",
        description="Spend and get",
        kind="points",
        tiers=(Tier(threshold=2_000, cents=200), Tier(threshold=4_000, cents=500)),
        by="spend",
        measure="after_all_coupons",
        products=("oats", "soap"),
        per_transaction=None,
        per_household=2,
        rolls=False,
        valid_days=0,
        from_date="2026-12-01",
        until="2026-12-31",
    ),
    RewardOffer(
        id="buy-2", store="alder", description="Buy 2", kind="slip", tiers=(Tier(threshold=2, cents=300),)
    ),
    REBATE,
    Rebate(id="soap-back", description="Back", cents=25, products=("soap",)),
    SetBonus(id="both", description="Both", cents=100, rebates=("oats-back", "soap-back")),
    Product(
        id="rolls",
        description="Nimbelle bath tissue",
        category="Paper",
        size=Size(amount="12", unit="roll"),
        pieces=12,
        tax_class="general",
        gtin="2000000000176",
        note="Two ply",
    ),
    Store(
        id="cedar",
        name="Cedar Pharmacy",
        rules=HouseRules(
            manufacturer_coupons_per_unit=2,
            store_coupons_per_unit=0,
            percent_offers_per_unit=2,
            store_with_manufacturer=False,
            like_coupons_per_transaction=None,
            coupons_no_more_than_items=False,
            slip_counts_as_manufacturer_coupon=True,
            percent_base="left",
            percent_rounding="line",
            multiplying=Multiplying(times=3, up_to_cents=100, per_transaction=5),
            overage="refuse",
            basket_coupons_per_transaction=3,
            slips_buy_gift_cards=True,
            transactions_per_visit=6,
        ),
        tax=Tax(rates={"general": 6_625, "candy": 100}, treatment="none", basis="item"),
        region="vale",
        channel_of="alder",
        cash_ceiling_cents=4_000,
        note="Doubles on Tuesdays",
    ),
)
DEMO = read_trip(demo_folder() / "trip.json")
OF_THE_DEMO: Sequence[Record] = (
    *DEMO.stores,
    *DEMO.products,
    *DEMO.prices,
    *DEMO.coupons,
    *DEMO.percent_offers,
    *DEMO.rewards,
    *DEMO.rebates,
    *DEMO.set_bonuses,
)


def household_of(*records: Record) -> Snapshot:
    kept: dict[str, dict[str, Any]] = {name: {} for name in KINDS}
    for record in records:
        kind, id = key_of(record)
        kept[kind][id] = record
    return Snapshot(batch=1, records=kept, revisions={})


@pytest.mark.parametrize("record", EVERY_FIELD, ids=lambda record: kind_of(record).name)
def test_a_form_that_is_filled_from_a_record_and_kept_gives_the_same_record(record: Record) -> None:
    soap_back = Rebate(id="soap-back", description="Back", cents=25, products=("soap",))
    there = household_of(ALDER, BIRCH, OATS, HONEY_OATS, SOAP, REBATE, soap_back, record)
    assert read_again(record, there) == [record]


def test_every_record_of_the_demo_week_stays_itself_on_its_form() -> None:
    there = household_of(*OF_THE_DEMO)
    for record in OF_THE_DEMO:
        assert read_again(record, there) == [record]


def read_again(record: Record, there: Snapshot) -> list[Record]:
    kind, id = key_of(record)
    form = FORMS[kind]
    sheet = sheet_of(there, form.fill(record, written(there)))
    read = form.read(sheet, id)
    assert sheet.fields.findings == []
    return list(read)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with at_the_desk(tmp_path / "data") as desk:
        yield desk


# --- new ones ---------------------------------------------------------------------------

COUPON = {"gives": "cents_off", "off": "1.00", "units-0": "2", "products-0": "oats", "form": "insert"}
TAG = {
    "store": "alder",
    "products": "soap",
    "cents": "1.99",
    "from_date": "2026-12-01",
    "until": "2026-12-12",
}
PERCENT = {"store": "alder", "percent": "20", "products": "oats"}
REWARD = {"store": "alder", "by": "units", "threshold-0": "2", "back-0": "3.00", "products": "oats"}
BACK = {"cents": "0.50", "products": "oats", "units": "1", "limit": "1"}


def test_a_coupon_gets_its_id_and_its_words_from_what_it_gives(desk: Desk) -> None:
    desk.send("/desk/offers/coupon/new", {**COUPON, "may_multiply": "yes"})
    [coupon] = desk.kept().coupons.values()
    assert coupon.id == "1-00-off-on-2-wickel-rolled-oats"
    assert coupon.description == "$1.00 off on 2 Wickel rolled oats"
    assert (coupon.gives, coupon.asks) == (CentsOff(cents=100), (Asks(products=("oats",), units=2),))
    assert (coupon.issuer, coupon.copies, coupon.may_multiply) == ("manufacturer", 1, True)
    desk.send("/desk/offers/coupon/new", COUPON)
    assert "1-00-off-on-2-wickel-rolled-oats-2" in desk.kept().coupons


def test_one_tag_form_makes_a_tag_for_each_kind_of_the_same_price(desk: Desk) -> None:
    deal = {"deal": "n_for_m", "n": "2", "m": "5.00"}
    desk.send("/desk/offers/price/new", {**TAG, **deal, "cents": "2.50", "products": ["oats", "honey-oats"]})
    prices = desk.kept().prices
    for product in ("oats", "honey-oats"):
        assert prices[f"alder:{product}:2026-12-01"].deal == NForM(n=2, cents=500)
    [batch, *_] = desk.says("/desk/offers").split("Last changes")[1:]
    assert batch.strip().startswith("New 2 tags")


@pytest.mark.parametrize(
    ("kind", "fields", "says"),
    [
        ("percent_offer", PERCENT, "20 % off Wickel rolled oats"),
        ("reward", REWARD, "Buy 2 Wickel rolled oats, get $3.00"),
        ("rebate", BACK, "$0.50 back on Wickel rolled oats"),
        ("product", {"description": "Pinder jam, plum", "amount": "12", "unit": "oz"}, "Pinder jam, plum"),
        ("store", {"name": "Cedar Pharmacy"}, "Cedar Pharmacy"),
    ],
)
def test_each_kind_is_kept_and_stands_in_its_list(
    desk: Desk, kind: str, fields: Mapping[str, Any], says: str
) -> None:
    page = words(desk.send(f"/desk/offers/{kind}/new", fields))
    assert "Kept." in page
    assert says in page


def test_a_set_bonus_is_made_of_rebates(desk: Desk) -> None:
    desk.send("/desk/offers/rebate/new", {**BACK, "description": "Oats back"})
    desk.send("/desk/offers/rebate/new", {**BACK, "description": "Soap back", "products": "soap"})
    desk.send("/desk/offers/set_bonus/new", {"cents": "1", "rebates": ["oats-back", "soap-back"]})
    [bonus] = desk.kept().set_bonuses.values()
    assert (bonus.description, bonus.cents) == ("$1.00 more for 2 rebates", 100)


def test_each_house_rule_stands_on_the_form_with_its_plain_sentence(one_desk: Desk) -> None:
    page = one_desk.says("/desk/offers/store/alder")
    assert "How many coupons of the same kind one transaction takes." in page
    assert "Usual: At most 4 like coupons in one transaction." in page
    assert "the printed receipt decides" in page


# --- every bad field ----------------------------------------------------------------------

BAD: Sequence[tuple[str, Mapping[str, Any], str, str]] = (
    ("coupon", {**COUPON, "off": ""}, "off", "write what it takes off"),
    ("coupon", {**COUPON, "off": "1,00"}, "off", "write digits with a point"),
    ("coupon", {**COUPON, "off": "0"}, "off", "more than nothing"),
    ("coupon", {**COUPON, "off": "9999999"}, "off", "that is no price"),
    ("coupon", {**COUPON, "regional": "coast"}, "regional", "a region and its amount"),
    ("coupon", {**COUPON, "regional": "coast 1\ncoast 2"}, "regional", "each region once"),
    ("coupon", {**COUPON, "gives": "percent_off", "percent": "101"}, "percent", "at most 100 %"),
    ("coupon", {**COUPON, "gives": "percent_off", "percent": "0"}, "percent", "more than nothing"),
    ("coupon", {**COUPON, "gives": "percent_off", "percent": "a lot"}, "percent", "a percentage"),
    ("coupon", {**COUPON, "gives": "free_item", "free-up-to": "x"}, "free-up-to", "write digits"),
    ("coupon", {**COUPON, "gives": "free_item", "free-leg": "3"}, "free-leg", "asks has 1 entries"),
    ("coupon", {**COUPON, "gives": "fixed_price"}, "fixed", "what the items cost together"),
    ("coupon", {**COUPON, "gives": "basket_off", "basket-off": "5"}, "basket-from", "the spend"),
    ("coupon", {**COUPON, "gives": "gold"}, "gives", "one of"),
    ("coupon", {**COUPON, "units-0": "0"}, "units-0", "a whole number from 1 to 100"),
    ("coupon", {**COUPON, "products-0": ""}, "products-0", "choose the products"),
    ("coupon", {**COUPON, "products-0": "gone"}, "products-0", "no such product any more"),
    ("coupon", {**COUPON, "everything-0": "yes"}, "products-0", "either the chosen products"),
    ("coupon", {**COUPON, "stores": "gone"}, "stores", "no such store any more"),
    ("coupon", {**COUPON, "issuer": "store"}, "stores", "taken at that store only"),
    ("coupon", {**COUPON, "copies": "-1"}, "copies", "a whole number"),
    ("coupon", {**COUPON, "per_day": "many"}, "per_day", "a whole number"),
    ("coupon", {**COUPON, "until": "2026-02-30"}, "until", "no such day"),
    (
        "coupon",
        {**COUPON, "from_date": "2026-12-09", "until": "2026-12-01"},
        "until",
        "ends before it begins",
    ),
    ("coupon", {**COUPON, "description": "x" * 401}, "description", "at most 400 characters"),
    ("price", {**TAG, "store": ""}, "store", "choose the store"),
    ("price", {**TAG, "store": "gone"}, "store", "no such store"),
    ("price", {**TAG, "products": ""}, "products", "choose the product"),
    ("price", {**TAG, "cents": ""}, "cents", "what one unit costs"),
    ("price", {**TAG, "regular": "0.50"}, "regular", "at least the tag"),
    ("price", {**TAG, "low": "2.50"}, "low", "at most the tag"),
    ("price", {**TAG, "high": "1.50"}, "high", "at least the tag"),
    ("price", {**TAG, "deal": "n_for_m"}, "n", "how many the price is for"),
    ("price", {**TAG, "deal": "n_for_m", "n": "2", "m": "9"}, "m", "cost less than the deal"),
    ("price", {**TAG, "deal": "buy_one_get_one", "off": "0"}, "off", "more than nothing"),
    ("price", {**TAG, "per_visit": "0"}, "per_visit", "a whole number from 1"),
    (
        "price",
        {"store": "alder", "products": "oats", "cents": "3.00"},
        "from_date",
        "there is a tag for this product at this store from that day already",
    ),
    ("percent_offer", {**PERCENT, "percent": ""}, "percent", "how many percent"),
    ("percent_offer", {**PERCENT, "products": ""}, "products", "say that everything counts"),
    ("percent_offer", {**PERCENT, "everything": "yes"}, "products", "either the chosen products"),
    ("percent_offer", {**PERCENT, "store": ""}, "store", "choose the store"),
    ("reward", {**REWARD, "threshold-0": ""}, "threshold-0", "how many must be bought"),
    ("reward", {**REWARD, "by": "spend", "threshold-0": "x"}, "threshold-0", "write digits"),
    ("reward", {**REWARD, "back-0": ""}, "back-0", "what comes back"),
    (
        "reward",
        {**REWARD, "tiers": "2", "threshold-1": "2", "back-1": "4"},
        "threshold-1",
        "steps go upward",
    ),
    ("reward", {**REWARD, "tiers": "2", "threshold-1": "4", "back-1": "1"}, "back-1", "gives more"),
    ("rebate", {**BACK, "cents": ""}, "cents", "what comes back"),
    ("rebate", {**BACK, "products": ""}, "products", "choose the products"),
    ("rebate", {**BACK, "deadline_days": "9999"}, "deadline_days", "a whole number"),
    ("set_bonus", {"cents": "1", "rebates": ""}, "rebates", "choose 2 to 40 rebates"),
    ("set_bonus", {"cents": "1", "rebates": ["a", "b"]}, "rebates", "no such rebate any more"),
    ("product", {"description": ""}, "description", "write what it is"),
    ("product", {"description": "Jam", "amount": "0"}, "amount", "a pack holds something"),
    ("product", {"description": "Jam", "amount": "a"}, "amount", "a number like 12"),
    ("product", {"description": "Jam", "unit": "jar"}, "unit", "not a unit of measure"),
    ("product", {"description": "Jam", "unit": "roll", "amount": "6", "pieces": "4"}, "pieces", "agree"),
    ("product", {"description": "Jam", "gtin": "012345000066"}, "gtin", "the last digit does not fit"),
    ("product", {"description": "Jam", "gtin": "123"}, "gtin", "count them again"),
    ("store", {"name": ""}, "name", "what the store is called"),
    ("store", {"name": "Cedar", "channel_of": "gone"}, "channel_of", "no such store"),
    ("store", {"name": "Cedar", "multiplying": "yes"}, "multiplying-up-to", "largest face value"),
    ("store", {"name": "Cedar", "rate-class-0": "general"}, "rate-0", "write the rate"),
    ("store", {"name": "Cedar", "rate-0": "6"}, "rate-class-0", "which class"),
    ("store", {"name": "Cedar", "rate-class-0": "a", "rate-0": "6.66666"}, "rate-0", "at most 3 digits"),
    ("store", {"name": "Cedar", "transactions_per_visit": "9"}, "transactions_per_visit", "one of"),
)


@pytest.fixture(scope="module")
def one_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A desk for everything that changes nothing."""
    with at_the_desk(tmp_path_factory.mktemp("home") / "data") as desk:
        yield desk


@pytest.mark.parametrize(
    ("kind", "fields", "field", "mend"), BAD, ids=[f"{b[0]}-{b[2]}-{b[3][:24]}" for b in BAD]
)
def test_a_mistake_is_told_beside_its_field_and_nothing_is_kept_or_lost(
    one_desk: Desk, kind: str, fields: Mapping[str, Any], field: str, mend: str
) -> None:
    before = one_desk.kept()
    page = one_desk.send(f"/desk/offers/{kind}/new", fields, status=400)
    assert f'href="#{field}"' in page
    assert f'id="{field}"' in page, "the link leads to the field"
    assert mend in words(page)
    assert one_desk.kept() == before
    for name, value in fields.items():
        if isinstance(value, str) and name in ("off", "cents", "percent", "description", "name", "place"):
            assert typed(page)[name] == [value]


def test_all_mistakes_are_told_at_once(one_desk: Desk) -> None:
    page = words(
        one_desk.send("/desk/offers/coupon/new", {"off": "x", "copies": "y", "until": "z"}, status=400)
    )
    for mend in ("write digits with a point", "a whole number from 0", "no such day", "choose the products"):
        assert mend in page


# --- choosing products ----------------------------------------------------------------------


def test_words_that_fit_one_product_are_taken_as_that_product(desk: Desk) -> None:
    desk.send("/desk/offers/rebate/new", {**BACK, "products": "", "products-words": "nimb soap"})
    assert desk.kept().rebates["0-50-back-on-nimbelle-bar-soap"].products == ("soap",)


def test_words_that_fit_several_are_asked_about_and_all_of_them_stand_there_to_tick(one_desk: Desk) -> None:
    page = one_desk.send("/desk/offers/rebate/new", {**BACK, "products": "", "products-words": "wickel"}, 400)
    assert "which of the 2 is meant? Tick it below" in words(page)
    assert 'value="oats"' in page
    assert 'value="honey-oats"' in page


def test_the_number_under_the_barcode_is_a_word_too(desk: Desk) -> None:
    fields = {**BACK, "products": "", "products-words": "0 12345 00006 5"}
    desk.send("/desk/offers/rebate/new", fields)
    assert next(iter(desk.kept().rebates.values())).products == ("soap",)


def test_without_script_the_form_goes_round_to_find_products_and_keeps_what_is_typed(one_desk: Desk) -> None:
    asked = {**BACK, "cents": "nonsense", "products-words": "wickel", "do": "find:products"}
    page = one_desk.send("/desk/offers/rebate/new", asked)
    fields = typed(page)
    assert (fields["cents"], fields["products"]) == (["nonsense"], ["oats"])
    assert "1 fits:" in words(page)
    page = one_desk.send("/desk/offers/rebate/new", {**fields, "do": "take:products"})
    assert typed(page)["products"] == ["oats", "honey-oats"]
    assert one_desk.kept().rebates == {}


def test_a_product_that_is_not_in_the_list_is_added_on_the_way(desk: Desk) -> None:
    new = {
        "products-words": "plum jam",
        "products-new-description": "Pinder plum jam",
        "products-new-amount": "12",
        "products-new-unit": "oz",
    }
    page = desk.send("/desk/offers/rebate/new", {**BACK, **new, "products": "", "do": "add:products"})
    assert desk.kept().products["pinder-plum-jam"].size == Size(amount="12", unit="oz")
    fields = typed(page)
    assert fields["products"] == ["pinder-plum-jam"]
    assert fields["products-words"] == fields["products-new-description"] == [""]
    assert fields["cents"] == ["0.50"]


def test_a_product_and_the_offer_that_it_came_with_are_one_change(desk: Desk) -> None:
    new = {"products-0-new-description": "Pinder plum jam", "products-0-new-unit": "jar"}
    page = desk.send("/desk/offers/coupon/new", {**COUPON, **new}, status=400)
    assert "not a unit of measure" in words(page)
    assert 'id="products-0-new-unit"' in page
    assert "<details open>" in page
    desk.send("/desk/offers/coupon/new", {**COUPON, **new, "products-0-new-unit": "oz"})
    assert next(iter(desk.kept().coupons.values())).asks[0].products == ("oats", "pinder-plum-jam")
    desk.send("/desk/offers/changes/2/take-back", {})
    assert "pinder-plum-jam" not in desk.kept().products
    assert desk.kept().coupons == {}


def test_the_picker_is_asked_for_what_fits(one_desk: Desk) -> None:
    page = one_desk.open("/desk/offers/products?search=wickel+oats&name=products-1")
    assert 'name="products-1"' in page
    assert "2 fit:" in page
    assert "No other product" in one_desk.open("/desk/offers/products?search=nothing+like+it")


def test_a_coupon_has_up_to_four_requirements_and_empty_ones_are_none(desk: Desk) -> None:
    page = desk.send("/desk/offers/coupon/new", {**COUPON, "do": "more"})
    fields = typed(page)
    assert fields["legs"] == ["2"]
    page = desk.send("/desk/offers/coupon/new", {**fields, "legs": "4", "do": "more"})
    assert typed(page)["legs"] == ["4"]
    assert "One requirement more" not in page
    desk.send(
        "/desk/offers/coupon/new", {**fields, "legs": "3", "products-2": "soap", "units-2": "1", "do": "save"}
    )
    [coupon] = desk.kept().coupons.values()
    assert [asked.products for asked in coupon.asks] == [("oats",), ("soap",)]


# --- changing, copying, removing ---------------------------------------------------------------


def test_a_change_is_kept_and_a_form_that_was_only_looked_at_changes_nothing(desk: Desk) -> None:
    address = "/desk/offers/product/soap"
    batches = desk.says("/desk/offers").count("Take back")
    desk.send(address, typed(desk.open(address)))
    assert desk.says("/desk/offers").count("Take back") == batches
    desk.send(address, {**typed(desk.open(address)), "note": "The large bar"})
    assert desk.kept().products["soap"].note == "The large bar"


def test_who_comes_second_is_told_keeps_her_words_and_may_still_decide(desk: Desk) -> None:
    address = "/desk/offers/product/soap"
    first, second = typed(desk.open(address)), typed(desk.open(address))
    desk.send(address, {**first, "note": "First"})
    page = desk.send(address, {**second, "note": "Second"}, status=409)
    assert "changed meanwhile" in words(page)
    assert "See it as it is now" in words(page)
    assert typed(page)["note"] == ["Second"]
    assert desk.kept().products["soap"].note == "First"
    desk.send(address, typed(page))
    assert desk.kept().products["soap"].note == "Second"


def test_a_tag_whose_first_day_was_wrong_moves_in_one_change(desk: Desk) -> None:
    desk.send("/desk/offers/price/new", TAG)
    address = "/desk/offers/price/alder:soap:2026-12-01"
    desk.send(address, {**typed(desk.open(address)), "from_date": "2026-12-02"})
    assert [id for id in desk.kept().prices if "soap" in id] == ["alder:soap:2026-12-02"]
    desk.send("/desk/offers/changes/3/take-back", {})
    assert [id for id in desk.kept().prices if "soap" in id] == ["alder:soap:2026-12-01"]


def test_two_tags_of_one_shelf_may_not_meet(desk: Desk) -> None:
    desk.send("/desk/offers/price/new", TAG)
    page = words(desk.send("/desk/offers/price/new", {**TAG, "from_date": "2026-12-10", "until": ""}, 400))
    assert "there is a tag for the same product and store on some of these days" in page


def test_one_more_like_this_is_filled_in_as_the_other_is(desk: Desk) -> None:
    desk.send("/desk/offers/coupon/new", {**COUPON, "description": "The first", "where": "Page 4"})
    fields = typed(desk.open("/desk/offers/coupon/new?like=the-first"))
    assert (fields["where"], fields["off"], fields["products-0"]) == (["Page 4"], ["1.00"], ["oats"])
    assert "may_multiply" not in fields, "as the other, not as a blank one"
    desk.send("/desk/offers/coupon/new", {**fields, "description": "The second"})
    assert set(desk.kept().coupons) == {"the-first", "the-second"}


def test_the_next_one_of_the_same_leaflet_keeps_its_store_and_days(desk: Desk) -> None:
    page = desk.send("/desk/offers/price/new", {**TAG, "kind": "clearance", "then": "another"})
    fields = typed(page)
    assert (fields["store"], fields["kind"]) == (["alder"], ["clearance"])
    assert (fields["from_date"], fields["until"]) == (["2026-12-01"], ["2026-12-12"])
    assert (fields["cents"], "products" in fields) == ([""], False)
    assert "alder:soap:2026-12-01" in desk.kept().prices


def test_a_form_may_begin_with_what_the_page_before_knew(one_desk: Desk) -> None:
    assert typed(one_desk.open("/desk/offers/price/new?products=soap"))["products"] == ["soap"]
    assert typed(one_desk.open("/desk/offers/product/new?gtin=012345000065"))["gtin"] == ["012345000065"]


def test_what_is_still_named_stays_and_what_names_it_is_linked(desk: Desk) -> None:
    desk.send("/desk/offers/coupon/new", {**COUPON, "description": "Off oats"})
    page = desk.open("/desk/offers/product/oats/remove")
    assert 'href="/desk/offers/coupon/off-oats"' in page
    assert "Change or remove them first" in words(page)
    page = words(desk.send("/desk/offers/product/oats/remove", {"revision": "1"}, status=409))
    assert "it is still named by" in page
    assert "oats" in desk.kept().products


def test_a_record_is_removed_unless_somebody_changed_it_meanwhile(desk: Desk) -> None:
    address = "/desk/offers/product/soap"
    removal = typed(desk.open(f"{address}/remove"))
    desk.send(address, {**typed(desk.open(address)), "note": "Changed"})
    page = words(desk.send(f"{address}/remove", removal, status=409))
    assert "changed meanwhile" in page
    desk.send(f"{address}/remove", typed(desk.open(f"{address}/remove")))
    assert "soap" not in desk.kept().products


@pytest.mark.parametrize(
    "address",
    [
        "/desk/offers/gold/new",
        "/desk/offers/coupon/gone",
        "/desk/offers/staple/new",
        "/desk/offers/coupon/gone/remove",
    ],
)
def test_what_is_not_there_is_told_as_such(one_desk: Desk, address: str) -> None:
    one_desk.open(address, status=404)


def test_text_of_an_offer_is_data(desk: Desk) -> None:
    desk.send("/desk/offers/product/new", {"description": "<script>alert(1)</script>", "note": "<b>"})
    [id] = [id for id in desk.kept().products if "script" in id]
    for address in (
        "/desk/offers?kind=product",
        f"/desk/offers/product/{id}",
        f"/desk/offers/product/{id}/remove",
    ):
        assert "<script>alert" not in desk.open(address)


def test_only_the_household_gets_in(desk: Desk) -> None:
    desk.client.headers.pop("Authorization")
    for address in ("/desk/offers", "/desk/offers/coupon/new", "/desk/offers/paste", "/desk/offers/photo"):
        desk.open(address, status=401)


# --- whatever is typed ----------------------------------------------------------------------

THERE = household_of(ALDER, BIRCH, OATS, HONEY_OATS, SOAP, REBATE)
_WORDS = st.one_of(
    st.sampled_from(
        ("1", "2", "0", "0.50", "12.5", "100", "yes", "oats", "alder", "2026-12-01", "roll", "-1")
    ),
    st.sampled_from(("cents_off", "free_item", "basket_off", "n_for_m", "buy_one_get_one", "store", "spend")),
    st.text(max_size=12),
)


@pytest.mark.parametrize("kind", FORMS)
@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_what_a_form_takes_can_be_kept_and_whatever_else_is_typed_is_a_finding(
    kind: str, data: st.DataObject
) -> None:
    form = FORMS[kind]
    filled = [form.fill(record, written(THERE)) for record in EVERY_FIELD if kind_of(record).name == kind]
    values = {**form.blank, **data.draw(st.sampled_from(filled))}
    for name in data.draw(st.lists(st.sampled_from(sorted(values)), max_size=4)):
        values[name] = data.draw(st.lists(_WORDS, max_size=2))
    sheet = sheet_of(THERE, values)
    records = form.read(sheet, None)
    if not sheet.fields.findings:
        for record in records:
            assert checked(record, kind) == record
