"""Offers pasted as people write them: told as they were understood, kept once confirmed, nothing lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from counterfoil.engine.offers import BuyOneGetOne, CentsOff, NForM, Tier

from .at_the_desk import Desk, at_the_desk, typed, words

ADDRESS = "/desk/offers/paste"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with at_the_desk(tmp_path / "data") as desk:
        yield desk


def pasted(desk: Desk, text: str) -> str:
    return desk.send(ADDRESS, {"text": text, "do": "read"})


def keys(page: str) -> list[str]:
    """The keys of the cards that are open, in their order."""
    return re.findall(r'<article class="card" id="(\w+)"', page)


def test_each_offer_is_a_card_that_tells_what_was_read_of_which_words(desk: Desk) -> None:
    page = words(pasted(desk, "$1/2 Wickel rolled oats exp 12/31 limit 4\nhello there"))
    assert "Coupon: $1.00 off on 2" in page
    assert "“exp 12/31” Until: 31 December" in page
    assert "“Wickel rolled oats” left over: which products?" in page
    assert "Limit 4 does not say of what" in page
    assert "No offer was found in these lines hello there" in page
    assert desk.kept().coupons == {}


def test_a_product_that_has_all_the_words_is_ticked_and_others_are_proposed(desk: Desk) -> None:
    page = pasted(desk, "$1/2 Wickel rolled oats\n$1 Wickel\n$1 any Wickel oats")
    fields, (one, several, any_of) = typed(page), keys(page)
    assert fields[f"{one}-products-0"] == ["oats"]
    assert f"{several}-products-0" not in fields, "two have the word: nothing is guessed"
    assert f'id="{several}-products-0-honey-oats"' in page, "but both are there to tick"
    assert sorted(fields[f"{any_of}-products-0"]) == ["honey-oats", "oats"]


def test_a_card_is_kept_by_itself_and_the_others_stay(desk: Desk) -> None:
    page = pasted(desk, "$1/2 Wickel rolled oats exp 12/31 insert\n75c nimbelle soap printable")
    fields, (first, second) = typed(page), keys(page)
    page = desk.send(ADDRESS, {**fields, f"{first}-issuer": "manufacturer", "do": f"take:{first}"})
    [kept] = desk.kept().coupons.values()
    assert (kept.gives, kept.asks[0].units, kept.until) == (CentsOff(cents=100), 2, "2026-12-31")
    assert kept.description == "$1.00 off on 2: Wickel rolled oats"
    assert keys(page) == [second]
    assert "1 offer kept." in words(page)
    assert "kept, from “$1/2 Wickel rolled oats exp 12/31 insert”" in words(page)


def test_what_is_missing_is_told_on_the_card_and_what_was_typed_is_back(desk: Desk) -> None:
    page = pasted(desk, "$1/2 Wickel rolled oats")
    fields, [key] = typed(page), keys(page)
    page = desk.send(ADDRESS, {**fields, f"{key}-where": "Page 4", "do": f"take:{key}"}, status=400)
    assert "say who pays for it" in words(page)
    assert "say where it is" in words(page)
    assert f'href="#{key}-issuer"' in page
    assert typed(page)[f"{key}-where"] == ["Page 4"]
    assert typed(page)["text"] == ["$1/2 Wickel rolled oats"]
    assert desk.kept().coupons == {}


def test_all_sure_ones_are_kept_as_one_change_and_the_others_stay(desk: Desk) -> None:
    text = "$1/2 Wickel rolled oats\nrolled oats 2/$5 thru 12/12\n$1/2 nimbelle soap limit 4\n$1 Wickel"
    page = pasted(desk, text)
    common = {"store": "birch", "issuer": "manufacturer", "form": "insert"}
    page = desk.send(ADDRESS, {**typed(page), **common, "do": "read"})
    assert "Keep all sure ones (2)" in words(page)
    page = desk.send(ADDRESS, {**typed(page), "do": "take:sure"})
    home = desk.kept()
    assert len(home.coupons) == 1
    tag = home.prices["birch:oats:"]
    assert (tag.cents, tag.deal, tag.until, tag.kind) == (250, NForM(n=2, cents=500), "2026-12-12", "sale")
    assert len(keys(page)) == 2, "one asks, one has no product yet"
    assert "Read and confirmed: 2 offers" in desk.says("/desk/offers")


def test_each_kind_of_offer_becomes_its_record(desk: Desk) -> None:
    text = "BOGO half off rolled oats\n20% off nimbelle soap\nbuy 2 rolled oats get $3 slip"
    page = pasted(desk, text)
    sale, percent, reward = keys(page)
    fields = {**typed(page), "store": "alder", f"{sale}-from_date": "2026-12-06"}
    for key in (sale, percent, reward):
        page = desk.send(ADDRESS, {**fields, "do": f"take:{key}"})
        fields = typed(page)
    home = desk.kept()
    tag = home.prices["alder:oats:2026-12-06"]
    assert (tag.cents, tag.deal) == (349, BuyOneGetOne(off_bp=5_000)), "one costs what its standing tag says"
    [offer] = home.percent_offers.values()
    assert (offer.bp, offer.products, offer.store) == (2_000, ("soap",), "alder")
    [earned] = home.rewards.values()
    assert (earned.tiers, earned.kind) == ((Tier(threshold=2, cents=300),), "slip")


def test_the_same_card_cannot_be_kept_twice(desk: Desk) -> None:
    page = pasted(desk, "20% off nimbelle soap")
    fields, [key] = {**typed(page), "store": "alder"}, keys(page)
    desk.send(ADDRESS, {**fields, "do": f"take:{key}"})
    page = desk.send(ADDRESS, {**fields, "do": f"take:{key}"}, status=400)
    assert "it is kept already" in words(page)
    assert len(desk.kept().percent_offers) == 1


def test_a_sale_does_not_take_the_place_of_a_standing_tag(desk: Desk) -> None:
    page = pasted(desk, "rolled oats 2/$5")
    fields, [key] = {**typed(page), "store": "alder"}, keys(page)
    page = desk.send(ADDRESS, {**fields, "do": f"take:{key}"}, status=400)
    assert "there is a tag for this product at this store from that day already" in words(page)
    assert desk.kept().prices["alder:oats:"].cents == 349


def test_editing_one_line_leaves_the_other_cards_as_they_are(desk: Desk) -> None:
    page = pasted(desk, "$1/2 Wickel\n20% off soap")
    fields, (first, second) = typed(page), keys(page)
    changed = {**fields, "text": "$1/2 Wickel\n25% off soap", f"{first}-where": "Page 4", "do": "read"}
    page = desk.send(ADDRESS, changed)
    assert keys(page)[0] == first
    assert keys(page)[1] != second
    assert typed(page)[f"{first}-where"] == ["Page 4"]


def test_products_are_found_taken_and_added_on_a_card_too(desk: Desk) -> None:
    page = pasted(desk, "$1 Wickel")
    fields, [key] = typed(page), keys(page)
    name = f"{key}-products-0"
    page = desk.send(ADDRESS, {**fields, "do": f"all:{name}"})
    assert sorted(typed(page)[name]) == ["honey-oats", "oats"], "what was proposed"
    page = desk.send(ADDRESS, {**fields, f"{name}-words": "soap", "do": f"find:{name}"})
    assert "1 fits:" in words(page)
    page = desk.send(ADDRESS, {**fields, f"{name}-words": "soap", "do": f"all:{name}"})
    assert typed(page)[name] == ["soap"]
    page = desk.send(ADDRESS, {**fields, f"{name}-new-unit": "jar", "do": f"add:{name}"}, status=400)
    assert "write what it is" in words(page)
    page = desk.send(ADDRESS, {**fields, f"{name}-new-description": "Wickel muesli", "do": f"add:{name}"})
    assert typed(page)[name] == ["wickel-muesli"]
    assert "wickel-muesli" in desk.kept().products


def test_a_card_is_opened_as_a_whole_form_with_all_that_was_read(desk: Desk) -> None:
    page = pasted(desk, "$1/2 Wickel rolled oats exp 12/31 limit 4 per day dnd insert")
    fields, [key] = typed(page), keys(page)
    form = desk.send(ADDRESS, {**fields, f"{key}-issuer": "manufacturer", "do": f"form:{key}"})
    shown = typed(form)
    assert (shown["off"], shown["units-0"], shown["products-0"]) == (["1.00"], ["2"], ["oats"])
    assert (shown["until"], shown["per_day"], shown["form"]) == (["2026-12-31"], ["4"], ["insert"])
    assert "may_multiply" not in shown
    desk.send("/desk/offers/coupon/new", shown)
    [coupon] = desk.kept().coupons.values()
    assert (coupon.per_day, coupon.may_multiply) == (4, False)


@pytest.mark.parametrize(
    ("text", "kind", "field", "value"),
    [
        ("rolled oats 3/$5 must buy 3", "price", "m", "5.00"),
        ("BOGO half off rolled oats", "price", "off", "50"),
        ("20% off soap", "percent_offer", "percent", "20"),
        ("buy 2 oats get $3 slip", "reward", "threshold-0", "2"),
        ("spend $25 get $5 gift card", "reward", "threshold-0", "25.00"),
    ],
)
def test_every_kind_has_its_whole_form(desk: Desk, text: str, kind: str, field: str, value: str) -> None:
    page = pasted(desk, text)
    fields, [key] = typed(page), keys(page)
    form = desk.send(ADDRESS, {**fields, "do": f"form:{key}"})
    assert f'action="/desk/offers/{kind}/new"' in form
    assert typed(form)[field] == [value]


def test_a_card_that_is_set_aside_is_kept_nowhere_and_stays_in_view(desk: Desk) -> None:
    page = pasted(desk, "$1 Wickel")
    [key] = keys(page)
    page = desk.send(ADDRESS, {**typed(page), "do": f"aside:{key}"})
    assert keys(page) == []
    assert "set aside" in words(page)
    assert desk.kept().coupons == {}


def test_a_paste_that_is_too_long_is_told_and_stays(desk: Desk) -> None:
    page = desk.send(ADDRESS, {"text": "x" * 20_001, "do": "read"})
    assert "paste at most 20000 characters at a time" in words(page)
    assert len(typed(page)["text"][0]) == 20_001


def test_a_bonus_that_mixes_pairs_its_products_with_each_other(desk: Desk) -> None:
    page = pasted(desk, "BOGO any Wickel oats mix and match")
    fields, [key] = {**typed(page), "store": "birch"}, keys(page)
    desk.send(ADDRESS, {**fields, f"{key}-cents": "4.00", "do": f"take:{key}"})
    tags = [tag for tag in desk.kept().prices.values() if tag.store == "birch"]
    assert [tag.deal.mix for tag in tags if isinstance(tag.deal, BuyOneGetOne)] == [key, key]


@pytest.fixture(scope="module")
def one_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    with at_the_desk(tmp_path_factory.mktemp("fuzz") / "data") as desk:
        yield desk


_PARTS = st.sampled_from(
    ["$1/2", "BOGO", "2/$5", "20% off", "oats", "limit 4", "exp 12/31", "\n", "<b>", "\0", "é"]
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    text=st.one_of(st.text(max_size=200), st.lists(_PARTS, max_size=12).map(" ".join)),
    verb=st.sampled_from(
        ["read", "take:sure", "take:x", "find:", "all:x-products-0", "add:y", "form:z", "more"]
    ),
    field=st.sampled_from(["store", "issuer", "form", "day", "done", "code", "shared"]),
    value=st.text(max_size=40),
)
def test_nothing_that_is_pasted_is_a_fault_of_ours(
    one_desk: Desk, text: str, verb: str, field: str, value: str
) -> None:
    sent = {"text": text, "do": verb, field: value}
    sent = {name: word.encode("utf-8", "replace").decode() for name, word in sent.items()}
    answer = one_desk.client.post(ADDRESS, data=sent, headers={"Accept": "text/html"})
    assert answer.status_code in (200, 400), answer.text
