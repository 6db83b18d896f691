"""``counterfoil explain`` keeps its word: the deal step by step, what could be done instead, the break-even.

The trip is that of ``tests/engine/test_alternatives.py``, worked by hand there: two packs of rolls at
Ostrel for 12.00, two inserts of 1.00, a slip of 0.50 from each of two transactions, 9.00 net.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from counterfoil.cli import main
from tests.engine.test_alternatives import ROLLS


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def written(**more: Any) -> str:
    Path("rolls.json").write_text(json.dumps(ROLLS | more))
    return "rolls.json"


def rows(text: str, first: str) -> list[list[str]]:
    """The lines of a page that begin with a word, in pieces of a column each."""
    lines = [line.strip() for line in text.splitlines() if line.strip().startswith(first)]
    return [[piece.strip() for piece in line.split("  ") if piece.strip()] for line in lines]


def test_deal_is_written_down_from_the_regular_price_to_the_net(capsys: pytest.CaptureFixture[str]) -> None:
    prices = [ROLLS["prices"][0] | {"regular_cents": 650, "kind": "sale"}, ROLLS["prices"][1]]
    assert main(["explain", written(prices=prices), "rolls-12"]) == 0
    said = capsys.readouterr().out

    assert said.splitlines()[0] == "Wendle rolls, 12 at Ostrel: 2 bought"
    assert rows(said, "Regular price") == [["Regular price", "$13.00", "54.2¢/roll"]]
    assert rows(said, "On the tag") == [["On the tag", "$12.00", "50.0¢/roll"]]
    assert rows(said, "After the stack") == [["After the stack", "$10.00", "41.7¢/roll"]]
    assert rows(said, "After the reward") == [["After the reward", "$9.00", "37.5¢/roll"]]
    assert rows(said, "After the rebate") == [["After the rebate", "$9.00", "37.5¢/roll"]]
    assert "Net 37.5¢/roll: at or under the stock-up price of 40.0¢/roll." in said


def test_alternatives_stand_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", written(), "rolls-12"]) == 0
    said = capsys.readouterr().out

    assert rows(said, "without the insert") == [
        ["without the insert", "1", "$5.50", "45.8¢/roll", "-$3.50", "$1.30 worse"]
    ]
    assert rows(said, "1 instead of 2") == [
        ["1 instead of 2", "1", "$4.50", "37.5¢/roll", "-$4.50", "$0.30 worse"]
    ]
    assert rows(said, "one more") == [["one more", "3", "$15.00", "41.7¢/roll", "+$6.00", "$1.20 worse"]]


def test_price_table_marks_the_break_even(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", written(), "rolls-12"]) == 0
    said = capsys.readouterr().out

    assert rows(said, "$6.30") == [["$6.30", "2", "$10.60", "$9.60", "40.0¢/roll", "at or under, break-even"]]
    assert rows(said, "$6.50") == [["$6.50", "1", "$5.50", "$5.00", "41.7¢/roll", "over"]]
    assert said.count("break-even") == 1


def test_a_product_that_is_not_bought_is_told_with_the_tag_to_wait_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["explain", written(), "rolls-6"]) == 0
    said = capsys.readouterr().out

    assert said.splitlines()[0] == "Wendle rolls, 6 at Brindlewick: not bought here"
    assert rows(said, "$2.10")[0][-1] == "at or under, break-even"
    assert rows(said, "$3.50") == [["$3.50", "0", "not bought"]]


def test_explanation_as_a_document(capfd: pytest.CaptureFixture[str]) -> None:
    # capfd: also what the solver's own code would print.
    assert main(["explain", written(), "rolls-12", "--store", "ostrel", "--json"]) == 0
    document = json.loads(capfd.readouterr().out)

    assert document["format"] == "counterfoil-explanation-1"
    assert (document["trip"], document["product"]) == ("rolls", "rolls-12")
    (store,) = document["stores"]
    assert store["store"] == "ostrel"
    assert store["deal"]["net_cents"] == 900
    assert [step["cents"] for step in store["steps"]] == [1200, 1200, 1000, 1000, 900, 900]
    assert store["break_even_cents"] == 630
    assert [each["words"] for each in store["alternatives"]][:2] == ["as planned", "without the insert"]


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (["rolls-9"], "PRODUCT: found rolls-9; mend: the trip has no product with this id: name one of"),
        (
            ["rolls-12", "--store", "fennmart"],
            "--store: found fennmart; mend: the trip has no store with this id: name one of ostrel",
        ),
        (
            ["bulbs"],
            "PRODUCT: found bulbs; mend: no store has a price for it on 2026-12-05: add a line under prices",
        ),
        (
            ["rolls-6", "--store", "ostrel"],
            "--store: found ostrel; mend: it has no price for rolls-6 on 2026-12-05: name one that has",
        ),
    ],
)
def test_what_cannot_be_explained_is_told_with_its_mend(
    arguments: list[str], complaint: str, capsys: pytest.CaptureFixture[str]
) -> None:
    products = [*ROLLS["products"], {"id": "bulbs", "description": "Halmet bulbs"}]
    assert main(["explain", written(products=products), *arguments]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(complaint)


def test_a_trip_that_cannot_be_used_is_told_as_by_plan(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", written(day="2026-02-30"), "rolls-12"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("rolls.json: day: found 2026-02-30; mend: no such day in the calendar")
