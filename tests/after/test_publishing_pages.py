"""Promise kept here: published pages say what the engine reckoned, in valid HTML that asks nobody else.

The figures are worked by hand in ``readers.py``.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import urldefrag

import html5lib
import pytest

from counterfoil.after.publishing.structured_data import decimal
from tests.browser.saturday import saturday
from tests.engine.test_alternatives import ROLLS

from .readers import choices, files, published, rolls

ARTICLE = "trips/2026-12-05/index.html"
NASTY = "</script><script>alert(1)</script><img src=x onerror=alert(1)>&\"'"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The rolls, published."""
    found = tmp_path_factory.mktemp("rolls")
    prices = [ROLLS["prices"][0] | {"regular_cents": 650, "until": "2026-12-06"}, ROLLS["prices"][1]]
    published(rolls(prices=prices), found, choices(introduction="Paper is cheap.\n\nBuy it at Ostrel."))
    return found


def page(folder: Path, path: str = ARTICLE) -> str:
    return (folder / path).read_text("utf-8")


def words(text: str) -> str:
    """What a page says, without its marks."""
    text = re.sub(r"<(head|script)\b.*?</\1>", " ", text, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def elements(text: str) -> list[Any]:
    """All elements of a page. Raises where the text breaks the HTML standard's syntax."""
    # Its type stubs leave the tree open.
    parser: Any = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return list(parser.parse(text).iter())


# --- what it says ----------------------------------------------------------------------


def test_the_deal_is_told_from_the_regular_price_to_the_net(folder: Path) -> None:
    said = words(page(folder))
    assert "Buy 1; on the tag until Sunday, 6 December 2026 ." in said
    assert "$6.00 − $1.00 (the insert) = $5.00" in said
    assert "Regular price $6.50 54.2¢/roll" in said
    assert "On the tag $6.00 50.0¢/roll" in said
    assert "After the stack $5.00 41.7¢/roll" in said
    assert "After the reward $4.50 37.5¢/roll" in said
    assert "Net 37.5¢/roll: at or under the stock-up price of 40.0¢/roll." in said
    assert "With tax" not in said  # rolls are not taxed here: a step that changes nothing is left out


def test_alternatives_stand_side_by_side_with_what_the_trip_then_costs(folder: Path) -> None:
    said = words(page(folder))
    # 5.50 net is 1.00 more, and the pack stays worth 4.80: 1.00 worse all in all.
    assert "without the insert" in said
    assert "As planned 1 $4.50 37.5¢/roll $0.00 the plan" in said
    assert "one more 2 $10.00 41.7¢/roll +$5.50 $0.70 worse" in said


def test_the_price_table_has_the_break_even_tag(folder: Path) -> None:
    said = words(page(folder))
    # A pack of 6 instead costs 3.50 and is worth 2.40: 1.10 lost. At 7.40 the pack of 12 is 5.90 net, worth
    # 4.80: 1.10 lost too, and more cash put down. A cent less, and it is right.
    assert "$5.00 1 $4.00 $3.50 29.2¢/roll at or under" in said
    assert "$7.39 1 $6.39 $5.89 49.1¢/roll over; break-even" in said
    assert "Right up to $7.39 on the tag." in said


def test_the_checkout_names_belt_coupons_total_and_what_comes_back(folder: Path) -> None:
    said = words(page(folder))
    assert "1. Ostrel: $5.00" in said
    assert "On the belt 1 × Wendle rolls, 12" in said
    assert "Hand over the insert : takes off $1.00. manufacturer coupon, from a newspaper insert" in said
    assert "The register must show $5.00 Pay with cash or card $5.00." in said
    assert "Must come back $0.50 slip: the reward" in said


def test_introduction_author_and_cautions_are_told(folder: Path) -> None:
    said = words(page(folder))
    assert "By Wren Tallow, for Saturday, 5 December 2026 ." in said
    assert "Paper is cheap. Buy it at Ostrel." in said
    assert "an expired or copied one is fraud" in said
    assert "its label decides" in said


def test_the_index_lists_the_trips_newest_first(tmp_path: Path) -> None:
    published(rolls(), tmp_path)
    published(rolls(id="later", day="2026-12-12"), tmp_path)
    said = words(page(tmp_path, "index.html"))
    assert said.index("Saturday, 12 December 2026") < said.index("Saturday, 5 December 2026")


def test_stacks_of_several_transactions_are_told_once_with_their_count(tmp_path: Path) -> None:
    published(saturday(), tmp_path)
    said = words(page(tmp_path))
    assert "2 × $7.49 − $3.00 ($3.00 off Thistledown razors) = $4.49" in said
    assert "1. Alder Row Grocers: $3.51" in said  # 1.50 + 1.89 + 5 % of 2.49
    assert "2. Bittern Lane Drugs, transaction 1 of 2: $8.98" in said
    assert "3. Bittern Lane Drugs, transaction 2 of 2: $4.50" in said
    assert "Pay with reward slip $4.00, cash or card $0.50." in said


def test_of_many_deals_those_that_save_most_are_weighed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The razors save 6.00 and bring 4.00 back; no other deal saves as much."""
    monkeypatch.setattr("counterfoil.after.publishing.articles.MOST_WEIGHED", 1)
    published(saturday(), tmp_path)
    regions = [each.get("aria-label") for each in elements(page(tmp_path)) if each.get("role") == "region"]
    assert regions == [
        "What else could be done: Thistledown razors, 4, Bittern Lane Drugs",
        "If the tag differs: Thistledown razors, 4, Bittern Lane Drugs",
    ]
    told = "What else could be done, and what is right where the tag differs, is told of the"
    assert f"{told} deal that saves most, not of all " in words(page(tmp_path))


def test_where_every_deal_is_weighed_none_is_said_to_be_left_out(folder: Path) -> None:
    assert "not of all" not in words(page(folder))


# --- valid, and nobody else is asked ------------------------------------------------------


@pytest.mark.parametrize("path", [ARTICLE, "index.html", "carry.html"])
def test_pages_are_valid_html(folder: Path, path: str) -> None:
    found = elements(page(folder, path))
    ids = [element.get("id") for element in found if element.get("id")]
    assert len(ids) == len(set(ids))
    assert [element.tag for element in found if element.tag in ("title", "h1", "main")].count("main") == 1
    for element in found:
        named = [*element.get("aria-labelledby", "").split(), *element.get("aria-describedby", "").split()]
        assert set(named) <= set(ids)
        # The policy allows no inline style and no handler.
        assert not [name for name in element.attrib if name == "style" or name.startswith("on")]


def test_a_page_that_is_not_valid_would_be_noticed() -> None:
    with pytest.raises(html5lib.html5parser.ParseError):
        elements("<!doctype html><title>x</title><p><div></p>")


def test_every_link_is_relative_and_leads_to_a_file(folder: Path) -> None:
    there = files(folder)
    for path in (ARTICLE, "index.html", "carry.html"):
        for element in elements(page(folder, path)):
            for name in ("href", "src"):
                link = urldefrag(element.get(name) or "").url
                if not link:
                    continue
                assert ":" not in link, link
                assert not link.startswith("/"), link
                target = (folder / path).parent.joinpath(link).resolve().relative_to(folder.resolve())
                assert target.as_posix() in there, link


def test_articles_run_no_script_and_the_carrying_page_only_its_own(folder: Path) -> None:
    for path in (ARTICLE, "index.html"):
        policy = _policy(folder, path)
        assert "default-src 'none'" in policy
        assert "script-src" not in policy
    policy = _policy(folder, "carry.html")
    import_map = re.search(r'<script type="importmap">(.*?)</script>', page(folder, "carry.html"))
    assert import_map is not None
    allowed = base64.b64encode(hashlib.sha256(import_map[1].encode()).digest()).decode()
    assert f"script-src 'self' 'sha256-{allowed}' 'wasm-unsafe-eval'" in policy
    assert "unsafe-inline" not in policy


def _policy(folder: Path, path: str) -> str:
    found = [
        element.get("content")
        for element in elements(page(folder, path))
        if element.get("http-equiv") == "Content-Security-Policy"
    ]
    assert len(found) == 1
    return found[0]


def test_text_from_offers_is_shown_as_text(tmp_path: Path) -> None:
    products = [product | {"description": f"{NASTY} {product['id']}"} for product in ROLLS["products"]]
    stores = [store | {"name": NASTY} for store in ROLLS["stores"]]
    coupons = [ROLLS["coupons"][0] | {"description": NASTY}]
    chosen = choices(title=NASTY, author=NASTY, introduction=NASTY, site_title=NASTY)
    published(rolls(products=products, stores=stores, coupons=coupons), tmp_path, chosen)
    for path in (ARTICLE, "index.html", "carry.html"):
        found = elements(page(tmp_path, path))
        assert not [element for element in found if element.tag == "img"]
        scripts = [element for element in found if element.tag == "script"]
        assert all("alert" not in (script.get("src") or "") for script in scripts)
        assert not [script for script in scripts if (script.text or "").startswith("alert")]
    assert _data(tmp_path)["@graph"][0]["name"] == f"{NASTY} rolls-12"


# --- structured data ------------------------------------------------------------------------


def _data(folder: Path) -> dict[str, Any]:
    blocks = [element for element in elements(page(folder)) if element.get("type") == "application/ld+json"]
    assert len(blocks) == 1
    return json.loads(blocks[0].text)


def test_schema_org_data_has_each_product_with_its_offers(folder: Path) -> None:
    data = _data(folder)
    assert data["@context"] == "https://schema.org"
    (product,) = data["@graph"]
    assert product["@type"] == "Product"
    assert product["name"] == "Wendle rolls, 12"
    offers = product["offers"]
    assert (offers["@type"], offers["lowPrice"], offers["highPrice"], offers["offerCount"]) == (
        "AggregateOffer",
        "6.00",
        "6.00",
        1,
    )
    (offer,) = offers["offers"]
    assert offer["@type"] == "Offer"
    assert (offer["price"], offer["priceCurrency"]) == ("6.00", "USD")
    assert offer["seller"] == {"@type": "Store", "name": "Ostrel"}
    assert offer["validThrough"] == "2026-12-06"
    assert "validFrom" not in offer
    (net,) = offer["priceSpecification"]
    assert (net["@type"], net["price"], net["referenceQuantity"]["value"]) == (
        "UnitPriceSpecification",
        "4.50",
        1,
    )


@pytest.mark.parametrize(
    ("cents", "exponent", "text"),
    [
        (600, 2, "6.00"),
        (5, 2, "0.05"),
        (-5, 2, "-0.05"),
        (0, 2, "0.00"),
        (380, 0, "380"),
        (-1234, 3, "-1.234"),
    ],
)
def test_prices_for_programs_have_a_point_and_no_symbol(cents: int, exponent: int, text: str) -> None:
    assert decimal(cents, exponent) == text
