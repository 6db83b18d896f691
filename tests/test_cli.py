"""The commands keep their word: exact cents, a refusal with its rule, and errors that help.

Bad input (a missing price, an unknown kind of coupon, negative cents, stores that name each other in
a circle, a file cut off in the middle) ends with exit code 2 and one line that names file, field, what
stood there and the mend. Nothing is printed as an answer, and no file is written.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from counterfoil.cli import main

Document = dict[str, Any]
Spoil = Callable[[Document], object]

TRIP: Document = {
    "format": "counterfoil-trip-1",
    "id": "first-week",
    "title": "The first week",
    "day": "2026-12-05",
    "stores": [
        {"id": "mill", "name": "Mill Street Market"},
        {"id": "mill-pickup", "name": "Mill Street pick-up", "channel_of": "mill"},
    ],
    "products": [{"id": "oat-bars", "description": "Oat bars, box of 6"}],
    "prices": [{"store": "mill", "product": "oat-bars", "cents": 749}],
    "wants": [{"id": "bars", "products": ["oat-bars"], "need": 2}],
    "coupons": [
        {
            "id": "bars-300",
            "description": "$3.00 off oat bars",
            "issuer": "manufacturer",
            "form": "insert",
            "copies": 2,
            "gives": {"kind": "cents_off", "cents": 300},
            "asks": [{"products": ["oat-bars"]}],
        }
    ],
}

TRANSACTION: Document = {
    "format": "counterfoil-transaction-1",
    "store": TRIP["stores"][0],
    "day": TRIP["day"],
    "products": TRIP["products"],
    "prices": TRIP["prices"],
    "coupons": TRIP["coupons"],
    "lines": [{"product": "oat-bars", "units": 2}],
    "uses": [{"coupon": "bars-300", "units": [0]}, {"coupon": "bars-300", "units": [1]}],
    "rewards": [
        {
            "id": "bars-back",
            "store": "mill",
            "description": "Buy 2 oat bars, get a $4.00 slip",
            "kind": "slip",
            "tiers": [{"threshold": 2, "cents": 400}],
            "products": ["oat-bars"],
        }
    ],
}


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def write(name: str, document: Document) -> str:
    Path(name).write_text(json.dumps(document))
    return name


def test_price_prints_the_receipt_with_every_cent(capsys: pytest.CaptureFixture[str]) -> None:
    # Worked by hand: 2 x 7.49 = 14.98, less two coupons of 3.00 = 8.98; a 4.00 slip prints.
    assert main(["price", write("bars.json", TRANSACTION)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[-1] for line in lines if line.startswith("Total")] == ["$8.98"]
    assert sum("-$3.00" in line for line in lines) == 2
    prints_back = lines[lines.index("Must print back or load:") :]
    assert prints_back[1].startswith("  1 x slip: Buy 2 oat bars, get a $4.00 slip")
    assert any(line.endswith(" $4.00") for line in prints_back)


def test_price_as_a_document_is_the_receipt_itself(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["price", "--json", write("bars.json", TRANSACTION)]) == 0
    receipt = json.loads(capsys.readouterr().out)
    assert receipt["format"] == "counterfoil-receipt-1"
    assert receipt["total_cents"] == 898


def test_a_refusal_is_an_answer_with_its_rule_and_exit_code_1(capsys: pytest.CaptureFixture[str]) -> None:
    one_copy = deepcopy(TRANSACTION)
    one_copy["coupons"][0]["copies"] = 1
    assert main(["price", write("bars.json", one_copy)]) == 1
    said = capsys.readouterr()
    assert said.out.startswith("Refused (copies): bars-300\n")
    assert said.err == ""


def test_plan_prints_the_net_cost(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", write("trip.json", TRIP)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "The first week, 2026-12-05"
    assert [line.split()[-1] for line in lines if line.startswith("Net cost")] == ["$8.98"]


def test_plan_as_a_document_can_be_read_back(capfd: pytest.CaptureFixture[str]) -> None:
    # capfd: also what the solver's own code would print.
    assert main(["plan", "--json", write("trip.json", TRIP)]) == 0
    plan = json.loads(capfd.readouterr().out)
    assert plan["format"] == "counterfoil-plan-1"
    # What the plan rings up can be rung up alone, to the same cent.
    assert main(["price", "--json", write("one.json", plan["transactions"][0]["transaction"])]) == 0
    receipt = json.loads(capfd.readouterr().out)
    assert receipt.pop("format") == "counterfoil-receipt-1"
    assert receipt == plan["transactions"][0]["receipt"]


@pytest.mark.parametrize("document", ["trip", "plan", "transaction", "receipt"])
def test_schema_describes_each_document(document: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", document]) == 0
    alone = json.loads(capsys.readouterr().out)
    assert alone["$ref"].lower() == f"#/$defs/{document}"
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)[document] == alone


def _without_price(trip: Document) -> None:
    del trip["prices"][0]["cents"]


def _unknown_kind(trip: Document) -> None:
    trip["coupons"][0]["gives"]["kind"] = "half_off_moon"


def _negative_cents(trip: Document) -> None:
    trip["prices"][0]["cents"] = -749


def _money_as_text(trip: Document) -> None:
    trip["prices"][0]["cents"] = "7.49"


def _misspelt(trip: Document) -> None:
    trip["wants"][0]["needed"] = 2


def _in_a_circle(trip: Document) -> None:
    trip["stores"][0]["channel_of"] = "mill-pickup"


def _nowhere_to_be_found(trip: Document) -> None:
    trip["wants"][0]["products"] = ["oat-bars", "corn-bars"]


def _no_such_day(trip: Document) -> None:
    trip["day"] = "2026-02-30"


def _region_below_zero(trip: Document) -> None:
    trip["coupons"][0]["gives"]["regional_cents"] = {"north": 250, "south": -1}


@pytest.mark.parametrize(
    ("spoil", "field", "found", "mend"),
    [
        (_without_price, "prices[0].cents", "nothing", "add it: whole cents"),
        (_unknown_kind, "coupons[0].gives.kind", '"half_off_moon"', "write one of: cents_off, percent_off"),
        (_negative_cents, "prices[0].cents", "-749", "write whole cents from 0"),
        (_money_as_text, "prices[0].cents", '"7.49"', "write whole cents from 0"),
        (_misspelt, "wants[0].needed", "2", "(known: id, products, name, need, welcome, stock_up)"),
        (_in_a_circle, "stores[0].channel_of", "mill-pickup", "leave channel_of out at the main store"),
        (_nowhere_to_be_found, "wants[0].products[1]", "corn-bars", "there is no product with this id"),
        (_no_such_day, "day", "2026-02-30", "no such day in the calendar"),
        (_region_below_zero, "coupons[0].gives.regional_cents.south", "-1", "write whole cents from 1"),
    ],
)
def test_a_trip_that_cannot_be_used(
    spoil: Spoil, field: str, found: str, mend: str, capsys: pytest.CaptureFixture[str]
) -> None:
    trip = deepcopy(TRIP)
    spoil(trip)
    file = write("trip.json", trip)
    assert main(["plan", file]) == 2
    said = capsys.readouterr()
    first = said.err.splitlines()[0]
    assert first.startswith(f"{file}: {field}: found {found}; mend: ")
    assert mend in first
    assert said.out == ""
    assert [path.name for path in Path().iterdir()] == [file]


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        (
            '{"id": "first-week",\n  "title": "The fi',
            "line 2, column 19: found the end of the file; mend: the file is cut off",
        ),
        ('{"id": "first-week",\n  "title": }', "line 2, column 12: found }; mend: this is not JSON"),
        ("", "line 1, column 1: found an empty file; mend: "),
        ("[" * 100_000, "found "),
        ('{"id": ' + "[" * 100_000, "found "),
        ("null", "found null; mend: write an object"),
    ],
)
def test_a_file_that_is_no_document(text: str, complaint: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("trip.json").write_text(text)
    for command in ("plan", "price"):
        assert main([command, "trip.json"]) == 2
        said = capsys.readouterr()
        assert said.err.startswith(f"trip.json: {complaint}")
        assert said.out == ""


def test_a_file_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "nowhere.json"]) == 2
    assert capsys.readouterr().err.startswith("nowhere.json: found no such file or directory; mend: ")
    assert main(["plan", "."]) == 2
    assert capsys.readouterr().err.startswith(".: found is a directory; mend: ")


def test_all_findings_are_told_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    trip = deepcopy(TRIP)
    _no_such_day(trip)
    _in_a_circle(trip)
    assert main(["plan", write("trip.json", trip)]) == 2
    assert len(capsys.readouterr().err.splitlines()) >= 3  # the day, and both stores of the circle


def test_a_text_from_a_file_cannot_steer_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    trip = deepcopy(TRIP)
    trip["title"] = "week\x1b[2J\r"
    trip["\x1b[31m"] = 1
    assert main(["plan", write("trip.json", trip)]) == 2
    assert "\x1b" not in capsys.readouterr().err
    del trip["\x1b[31m"]
    assert main(["plan", write("trip.json", trip)]) == 0
    assert "\x1b" not in capsys.readouterr().out


def test_an_unknown_command_ends_with_2(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in ([], ["fly"], ["serve", "--port", "70000"], ["schema", "moon"]):
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        assert ended.value.code == 2
    assert "not a port" in capsys.readouterr().err
