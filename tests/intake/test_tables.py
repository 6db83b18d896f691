"""Tables: what a row says, what it may be called, and that what is written is read back the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.engine.offers import (
    Asks,
    BasketOff,
    CentsOff,
    Coupon,
    PercentOff,
    Product,
    RewardOffer,
    Size,
    Store,
    Tier,
)
from counterfoil.home.checking import Known
from counterfoil.home.household import Staple
from counterfoil.home.importing import Preview, weigh
from counterfoil.home.kinds import KINDS, id_of
from counterfoil.home.tables import TABLE_KINDS, TABLE_TYPES, read_rows
from counterfoil.intake.bad_input import BadInput
from counterfoil.intake.tables.cells import Currency
from counterfoil.intake.tables.columns import columns_of
from counterfoil.intake.tables.delimited import guarded, read_table_text, unguarded, write_table
from counterfoil.intake.tables.records import heading_of, row_of
from tests.server.conftest import small_trip

from .made_up_records import TEXTS, records

USD = Currency()
ALDER = Store(id="alder", name="Alder Row Grocers")
OATS = Product(id="oats", description="Wickel rolled oats", size=Size(amount="500", unit="g"))
COUPON = Coupon(
    id="oats-50",
    description="50 cents off one Wickel oats",
    issuer="manufacturer",
    form="insert",
    gives=CentsOff(cents=50),
    asks=(Asks(products=("oats",)),),
    until="2026-12-31",
)


def household(*kept: Any) -> dict[str, dict[str, Any]]:
    """Records by kind and id, as a snapshot has them."""
    found: dict[str, dict[str, Any]] = {name: {} for name in KINDS}
    names = {kind.type: kind.name for kind in KINDS.values()}
    for record in kept:
        found[names[type(record)]][id_of(record)] = record
    return found


def preview(text: str | bytes, kind: str | None = None, *kept: Any) -> Preview:
    """What a file would do to a household that has ``kept``."""
    here = household(*kept)
    data = text.encode() if isinstance(text, str) else text
    known = Known(
        stores=here["store"],
        products=here["product"],
        rebates=here["rebate"],
        rewards=here["reward"],
        staples=here["staple"],
        prices=tuple(here["price"].values()),
    )
    return weigh(read_rows(data, kind, here, USD), here, known, USD)


def refusals(found: Preview) -> list[tuple[int, str, str]]:
    """Row, column and mend of all that is refused."""
    return [(fate.row, f.field, f.mend) for fate in found.fates for f in fate.findings]


# --- what a row says ----------------------------------------------------------------------


def test_money_percents_and_days_are_written_as_people_write_them() -> None:
    found = preview(
        "id,description,issuer,form,gives,amount,percent,products,until\n"
        "a,50 off,manufacturer,insert,cents off,0.50,,oats,2026-12-31\n"
        "b,a fifth off,manufacturer,printable,percent off,,20%,oats,\n",
        None,
        OATS,
    )
    assert [record.gives for record in found.records] == [CentsOff(cents=50), PercentOff(bp=2000)]
    assert found.records[0].until == "2026-12-31"


def test_a_heading_that_says_cents_holds_whole_cents() -> None:
    found = preview("store,product,price cents,regular price\nalder,oats,349,3.99\n", "price", ALDER, OATS)
    assert (found.records[0].cents, found.records[0].regular_cents) == (349, 399)


def test_a_reward_by_spend_has_its_threshold_in_money_and_one_by_units_in_units() -> None:
    found = preview(
        "id,store,description,kind,by,threshold,tier amount,tier 2 threshold,tier 2 amount\n"
        "u,alder,Buy 2,slip,units,2,1.00,4,3.00\n"
        "s,alder,Spend 20,slip,spend,20.00,5.00,,\n",
        "reward",
        ALDER,
    )
    tiers = [record.tiers for record in found.records]
    assert tiers == [
        (Tier(threshold=2, cents=100), Tier(threshold=4, cents=300)),
        (Tier(threshold=2000, cents=500),),
    ]


def test_a_stock_up_price_may_have_parts_of_a_cent() -> None:
    found = preview("id,name,products,per,stock up price\nb,Breakfast,oats,g,0.0055\n", "staple", OATS)
    assert found.records == (
        Staple(id="b", name="Breakfast", products=("oats",), per="g", stock_up_cents="0.55"),
    )


def test_rows_may_name_each_other_whatever_their_order() -> None:
    found = preview("id,name,channel of\nalder-online,Online,alder\nalder,Alder Row,\n", "store")
    assert [fate.fate for fate in found.fates] == ["new", "new"]


def test_a_row_that_names_a_refused_one_is_refused_with_it() -> None:
    found = preview("id,name,channel of,cash ceiling\nonline,Online,alder,\nalder,Alder,,ten\n", "store")
    assert [(row, column) for row, column, _ in refusals(found)] == [(2, "channel of"), (3, "cash ceiling")]
    assert found.records == ()


def test_a_table_of_two_columns_changes_one_field_and_leaves_the_others() -> None:
    found = preview("id,until\noats-50,2027-01-31\n", "coupon", OATS, COUPON)
    [fate] = found.fates
    assert fate.fate == "changed"
    assert [(c.column, c.before, c.after) for c in fate.changes] == [("until", "2026-12-31", "2027-01-31")]
    assert found.records[0].gives == CentsOff(cents=50)


def test_an_empty_cell_takes_away_what_was_there_and_the_preview_says_so() -> None:
    [fate] = preview("id,until\noats-50,\n", "coupon", OATS, COUPON).fates
    assert [(c.column, c.before, c.after) for c in fate.changes] == [("until", "2026-12-31", "nothing")]


def test_another_choice_drops_what_only_the_first_one_had() -> None:
    found = preview("id,gives,percent\noats-50,percent off,25%\n", "coupon", OATS, COUPON)
    assert found.records[0].gives == PercentOff(bp=2500)


def test_the_same_table_again_changes_nothing() -> None:
    [fate] = preview("id,name\nalder,Alder Row Grocers\n", "store", ALDER).fates
    assert fate.fate == "same"


WRONG: Mapping[str, tuple[str, str, str]] = {
    "comma in money": ('store,product,price\nalder,oats,"3,49"\n', "price", "a point, not a comma"),
    "too exact": ("store,product,price\nalder,oats,3.499\n", "price", "USD has 2 digits after the point"),
    "bare part": ("id,store,description,percent\np,alder,x,0.2\n", "percent", "0.2% or 20%?"),
    "no day": ("store,product,price,until\nalder,oats,3.49,12/31/2026\n", "until", "like 2026-12-05"),
    "no such day": ("store,product,price,until\nalder,oats,3.49,2026-02-30\n", "until", "a day as"),
    "no such store": ("store,product,price\nelder,oats,3.49\n", "store", "no store with this id"),
    "other choice": (
        "id,description,issuer,form,gives,percent,products\nc,x,store,insert,cents off,20%,oats\n",
        "gives percent",
        "“cents off” has no such value",
    ),
    "nothing chosen": (
        "id,description,issuer,form,gives,amount,products\nc,x,store,insert,,0.20,oats\n",
        "gives amount",
        "“gives” is empty",
    ),
    "free of charge": (
        "id,description,issuer,form,gives,amount,products\nc,x,manufacturer,insert,cents off,0,oats\n",
        "gives amount",
        "more than nothing",
    ),
    "short bar code": ("id,description,gtin\nx,y,36000291452\n", "gtin", "drops zeros in front"),
    "second leg without a first": (
        "id,description,issuer,form,gives,amount,asks 2 products\nc,x,store,insert,cents off,0.20,oats\n",
        "asks 2 products",
        "fill that in first",
    ),
    "left out": ("id,description\n,oats\n", "id", "an id"),
    "cells beyond": ("id,name\nx,a,b\n", "", "more cells than columns"),
}


@pytest.mark.parametrize("case", WRONG)
def test_what_cannot_be_is_refused_by_row_and_column_with_its_mend(case: str) -> None:
    text, column, mend = WRONG[case]
    found = preview(text, "store" if case == "cells beyond" else None, ALDER, OATS)
    assert [(row, name) for row, name, _ in refusals(found)] == [(2, column)]
    assert mend in refusals(found)[0][2]


def test_two_rows_of_one_id_are_told_by_each_other() -> None:
    found = preview("id,name\nalder,A\n\nbirch,B\nalder,C\n", "store")
    assert refusals(found) == [(5, "id", "row 2 is the same store: keep one of the two")]


def test_tags_that_meet_are_told_by_their_row() -> None:
    text = "store,product,price,from,until\nalder,oats,3,,2026-01-31\nalder,oats,2,2026-01-15,\n"
    [(row, _, mend)] = refusals(preview(text, "price", ALDER, OATS))
    assert row == 3
    assert mend.startswith("row 2 is a tag for the same product")


# --- the file -----------------------------------------------------------------------------


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_separators_and_byte_order_marks_are_told_by_themselves(separator: str, mark: bytes) -> None:
    text = f'id{separator}name\nalder{separator}"Alder{separator} Row"\n'.encode()
    assert preview(mark + text, "store").records == (Store(id="alder", name=f"Alder{separator} Row".strip()),)


def test_another_encoding_is_told_with_the_place_of_its_byte() -> None:
    with pytest.raises(BadInput) as found:
        read_table_text("id,name\ncafe,Caf\N{LATIN SMALL LETTER E WITH ACUTE}\n".encode("cp1252"))
    [finding] = found.value.findings
    assert finding.field == "byte 17, line 2"
    assert "0xe9" in finding.value
    assert "UTF-8" in finding.mend


@pytest.mark.parametrize(
    ("data", "mend"),
    [
        ("id,name\n".encode("utf-16"), "CSV in UTF-8"),
        (b"PK\x03\x04rest", "CSV in UTF-8"),
        (b"", "a heading row"),
        (b'id,name\na,"open\n', "in quotes"),
        (b"id\n" + b"x\n" * 20_001, "split the file"),
    ],
)
def test_a_file_that_is_no_table_is_refused_as_a_whole(data: bytes, mend: str) -> None:
    with pytest.raises(BadInput, match=mend):
        read_table_text(data)


def test_a_column_that_nobody_knows_is_left_out_and_told() -> None:
    found = preview("id,name,colour\nalder,Alder,red\n", "store")
    assert [note.field for note in found.notes] == ["colour"]
    assert found.count("new") == 1


def test_two_columns_of_one_meaning_are_not_guessed_between() -> None:
    with pytest.raises(BadInput, match="keep one of them"):
        preview("id,description,barcode,upc\noats,Oats,,\n", "product")


def test_what_the_rows_are_is_told_by_the_columns_or_asked() -> None:
    assert preview("product,store,day,price\n", None).fates == ()
    with pytest.raises(BadInput, match="do not tell what the rows are"):
        preview("id,until\noats-50,2026-12-31\n", None)


# --- JSON ---------------------------------------------------------------------------------


def test_a_list_of_records_in_json_is_taken_as_its_fields_say() -> None:
    found = preview('[{"id":"alder","name":"Alder Row Grocers"},{"id":"bad one","name":"x"}]', "store")
    assert found.records == (ALDER,)
    assert [(row, field) for row, field, _ in refusals(found)] == [(2, "id")]


def test_a_trip_brings_its_records_and_its_wants_become_staples() -> None:

    found = preview(msgspec.json.encode(small_trip()))
    counts = Counter(fate.kind for fate in found.fates if fate.fate == "new")
    assert counts == {"store": 1, "product": 1, "price": 1, "coupon": 1, "staple": 1}
    assert found.records[-1] == Staple(id="breakfast", name="Breakfast", products=("oats",))


def test_an_export_brings_each_record_as_it_stood_last() -> None:
    def line(revision: int, document: str) -> str:
        return (
            f'{{"line":"version","kind":"store","id":"alder","revision":{revision},"batch":{revision},'
            f'"title":"","words":"","starts":"","ends":"","document":{document}}}\n'
        )

    first = '{"line":"format","format":"counterfoil-household-1"}\n'
    names = [f'{{"id":"alder","name":"{name}"}}' for name in ("First", "Alder Row Grocers")]
    assert preview(first + line(1, names[0]) + line(2, names[1])).records == (ALDER,)
    assert preview(first + line(1, names[0]) + line(2, "null")).fates == ()
    with pytest.raises(BadInput, match="the first line names the format"):
        preview(line(1, names[0]) + line(2, names[1]))


# --- there and back -----------------------------------------------------------------------


@given(TEXTS)
def test_a_guarded_cell_is_no_formula_and_says_the_same(text: str) -> None:
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r"))
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize("kind", TABLE_KINDS)
def test_every_record_is_the_same_after_it_was_written_as_a_row_and_read(kind: str) -> None:
    @settings(max_examples=40, deadline=None)
    @given(st.lists(records(kind), min_size=1, max_size=4))
    def there_and_back(made: list[Any]) -> None:
        table = write_table(heading_of(TABLE_TYPES[kind]), [row_of(record, USD) for record in made])
        rows = read_rows(table, kind, household(), USD).rows
        assert [row.findings for row in rows] == [()] * len(made)
        assert [row.record for row in rows] == made
        # Over records that are there already, with whatever else they had, a whole table says everything.
        others = {id_of(r): r for r in reversed(made)} if kind in KINDS else {}
        again = read_rows(table, kind, household() | {kind: others}, USD).rows
        assert [row.record for row in again] == made

    there_and_back()


@pytest.mark.parametrize("kind", TABLE_KINDS)
def test_no_heading_means_two_columns(kind: str) -> None:
    meant = Counter(heading for column in columns_of(TABLE_TYPES[kind]) for heading in column.headings)
    assert [heading for heading, count in meant.items() if count > 1] == []


def test_a_basket_coupon_keeps_what_it_asks_and_from_which_spend() -> None:
    basket = Coupon(
        id="five",
        description="5 off 30",
        issuer="store",
        form="digital",
        gives=BasketOff(cents=500, from_cents=3000, measure="after_store_coupons"),
        asks=(Asks(),),
        stores=("alder",),
    )
    cells = dict(zip(heading_of(Coupon), row_of(basket, USD), strict=True))
    assert cells["gives from spend of"] == "30.00"
    assert cells["gives measure"] == "after store coupons"


def test_a_reward_without_a_limit_says_none() -> None:
    reward = RewardOffer(
        id="r",
        store="alder",
        description="Every one",
        kind="slip",
        tiers=(Tier(threshold=1, cents=100),),
        per_transaction=None,
    )
    assert dict(zip(heading_of(RewardOffer), row_of(reward, USD), strict=True))["per transaction"] == "none"
