"""A trip at the Desk without any script: picked, planned, compared, decided on, sent to the phone.

Oats are 2.00 at Alder and 2.10 at Birch, a coupon takes 0.50 off one; two are needed, a third is welcome at
1.50 or less. Two at Alder: 4.00 - 0.50 = 3.50.
"""

from __future__ import annotations

import asyncio
import html
import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from counterfoil import plans
from counterfoil.engine.offers import Asks, CentsOff, Coupon, Product, ShelfPrice, Store, Trip
from counterfoil.engine.papers import Plan, Proof
from counterfoil.home.household import Needed, Staple, TripDraft
from counterfoil.home.kinds import Record

from .conftest import Client, Phone, paired
from .households import keep

COUPON = Coupon(
    id="oats-50",
    description="50 cents off one Wickel oats",
    issuer="manufacturer",
    form="insert",
    gives=CentsOff(cents=50),
    asks=(Asks(products=("oats",)),),
    until="2026-12-31",
)
HOUSEHOLD: tuple[Record, ...] = (
    Store(id="alder", name="Alder Row Grocers"),
    Store(id="birch", name="Birch Lane Market"),
    Product(id="oats", description="Wickel rolled oats"),
    Product(id="tea", description="Lowtide black tea"),
    ShelfPrice(store="alder", product="oats", cents=200, low_cents=180, high_cents=260, place="aisle 3"),
    ShelfPrice(store="birch", product="oats", cents=210),
    ShelfPrice(store="birch", product="tea", cents=250),
    COUPON,
    Coupon(
        id="late",
        description="20 cents off one Wickel oats",
        issuer="manufacturer",
        form="insert",
        gives=CentsOff(cents=20),
        asks=(Asks(products=("oats",)),),
        until="2026-12-04",
    ),
    Staple(id="breakfast", name="Breakfast", products=("oats",), stock_up_cents="150"),
    Staple(id="pot", name="Tea", products=("tea",), stock_up_cents="100"),
)
DRAFT = TripDraft(
    id="week",
    title="This week",
    day="2026-12-05",
    stores=("alder", "birch"),
    needs=(Needed(staple="breakfast", need=2, welcome=3),),
)
PLAN = "/desk/drafts/week/plan"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Client]:
    """A Desk with a small household and a trip in the making, on the first of December."""
    keep(tmp_path / "data", (*HOUSEHOLD, DRAFT))
    with paired(tmp_path / "data", today=lambda: "2026-12-01") as client:
        yield client


def page(client: Client, address: str) -> str:
    """A page that must be there, as it is sent."""
    answer = client.get(address, headers={"Accept": "text/html"})
    assert answer.status_code == 200, answer.text
    return answer.text


def words(text: str) -> str:
    """What a page says, without its marks."""
    text = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def post(client: Client, address: str, form: dict[str, Any]) -> Any:
    """A form, sent as a browser does, and the page that it leads to."""
    return client.post(address, data=form, headers={"Accept": "text/html"})


def all_compared(client: Client, address: str = PLAN) -> str:
    """The page once everything beside the plan has arrived."""
    while "data-pending" in (text := page(client, address)):
        pass
    return text


def card(text: str, heading: str) -> str:
    """What one scenario says."""
    return words(next(part for part in text.split('<li class="card"') if heading in words(part)))


def change_of(text: str, heading: str) -> str:
    """What taking a scenario sends."""
    part = next(part for part in text.split('<li class="card"') if heading in words(part))
    found = re.search(r'name="change" value="([^"]+)"', part)
    assert found is not None
    return html.unescape(found[1])


# --- the form --------------------------------------------------------------------------------


def test_a_new_trip_is_on_the_coming_saturday_and_goes_where_the_last_one_went(desk: Client) -> None:
    text = page(desk, "/desk/trips/new")
    assert 'name="day" type="date" value="2026-12-05"' in text
    assert text.count(" checked") == 2


def test_the_larder_proposes_with_its_reasons_and_only_what_differs_is_hers(desk: Client) -> None:
    form = {
        "title": "Oats only",
        "day": "2026-12-05",
        "stores": ["alder"],
        "need.breakfast": "2",
        "welcome.breakfast": "2",
        "need.pot": "0",
        "welcome.pot": "0",
        "drive": "3.00",
        "cash": "20",
        "then": "keep",
    }
    answer = post(desk, "/desk/drafts", form)
    assert str(answer.url).endswith("/desk/drafts/oats-only?kept=1")
    said = words(answer.text)
    assert "Breakfast yours stock up at" in said
    assert "How fast it goes is not known yet" in said
    assert "Tea stock up at" in said
    assert 'name="drive" type="text" value="3.00"' in answer.text
    assert 'name="cash" type="text" value="20.00"' in answer.text


def test_a_form_that_does_not_fit_comes_back_with_every_finding_and_all_that_was_typed(
    desk: Client,
) -> None:
    form = {
        "title": "Typed with care",
        "day": "2026-12-05",
        "need.breakfast": "3",
        "welcome.breakfast": "2",
        "cash": "a lot",
        "revision": "1",
    }
    answer = post(desk, "/desk/drafts/week", form)
    assert answer.status_code == 400
    said = words(answer.text)
    assert "Nothing was changed yet." in said
    assert "choose at least one store to go to" in said
    assert "Breakfast, up to (2): at least the 3 needed" in said
    assert 'value="Typed with care"' in answer.text
    assert 'value="a lot"' in answer.text
    assert "This week" in words(page(desk, "/desk"))


def test_a_form_from_before_somebody_elses_change_is_refused_and_loses_nothing(desk: Client) -> None:
    form = {"title": "First", "day": "2026-12-05", "stores": ["alder"], "revision": "1"}
    assert post(desk, "/desk/drafts/week", form).status_code == 200
    answer = post(desk, "/desk/drafts/week", form | {"title": "Second"})
    assert answer.status_code == 400
    assert "changed meanwhile" in words(answer.text)
    assert 'value="Second"' in answer.text


def test_stops_are_the_order_of_the_drive(desk: Client) -> None:
    form = {
        "title": "This week",
        "day": "2026-12-05",
        "stores": ["alder", "birch"],
        "stop.alder": "2",
        "stop.birch": "1",
        "revision": "1",
    }
    text = post(desk, "/desk/drafts/week", form).text
    assert text.index("Birch Lane Market") < text.index("Alder Row Grocers")


def test_a_trip_put_away_is_brought_back(desk: Client) -> None:
    answer = post(desk, "/desk/drafts/week/remove", {})
    assert "No trip is in the making." in words(answer.text)
    batch = re.search(r'name="batch" value="(\d+)"', answer.text)
    assert batch is not None
    assert "This week" in words(post(desk, "/desk/take-back", {"batch": batch[1]}).text)


def test_a_trip_that_is_not_there_is_named(desk: Client) -> None:
    for address in ("/desk/drafts/nobody", "/desk/drafts/nobody/plan"):
        answer = desk.get(address, headers={"Accept": "text/html"})
        assert (answer.status_code, "There is no such trip in the making" in answer.text) == (404, True)


# --- the plan --------------------------------------------------------------------------------


def test_the_plan_comes_with_its_proof_its_stacks_and_what_was_left_out(desk: Client) -> None:
    said = words(page(desk, PLAN))
    assert "Best possible: proven for these offers, prices and rules." in said
    assert "2 × Wickel rolled oats Alder Row Grocers, aisle 3" in said
    assert "$2.00 − $0.50 (50 cents off one Wickel oats) = $1.50" in said
    assert "Net, at what rewards and rebates are worth to you $3.50" in said
    assert "▲ over" in said
    assert "1 coupon ends before the day: 20 cents off one Wickel oats." in said


def test_each_deal_says_what_it_adds_once_the_trip_without_it_is_planned(desk: Client) -> None:
    """Without Alder the two are bought at Birch: 4.20 - 0.50 = 3.70, 0.20 more. Their own value is what
    they are worth, 3.00, less what they cost."""
    said = words(all_compared(desk))
    assert "Its own value -$0.50 It adds $0.20" in said
    assert "In the order of what each adds to the trip" in said


def test_scenarios_stand_beside_the_plan_with_net_pocket_and_all_in_all(desk: Client) -> None:
    text = all_compared(desk)
    said = card(text, "Without going to Alder Row Grocers")
    assert "Net $0.20 more Out of pocket $0.20 more All in all $0.20 worse" in said
    assert "2 instead of none: Wickel rolled oats, Birch Lane Market" in said


def test_a_deals_page_has_its_alternatives_and_its_price_table_with_the_break_even(desk: Client) -> None:
    """The third is never worth it; the two stay at Alder while they are not dearer than at Birch."""
    text = all_compared(desk, "/desk/drafts/week/deals/alder/oats")
    assert "Net $0.50 more" in card(text, "Without the coupon “50 cents off one Wickel oats”")
    assert "Net $2.00 less Out of pocket $2.00 less All in all $0.50 better" not in text
    said = words(text)
    assert "$2.10 2 $3.70 $3.70" in said
    assert "It is right up to a tag of $2.10 ." in said
    assert "break-even" in said


def test_a_product_that_the_plan_leaves_has_a_page_too(desk: Client) -> None:
    said = words(all_compared(desk, "/desk/drafts/week/deals/birch/oats"))
    assert "The plan buys none of it here." in said
    assert desk.get("/desk/drafts/week/deals/birch/nothing").status_code == 404


# --- while it is being planned -----------------------------------------------------------------


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """A planner that goes on only once the event is set."""
    go = threading.Event()
    really = plans.plan_in_thread

    def waiting(trip: Trip, *, prove: bool) -> Plan:
        assert go.wait(30)
        return really(trip, prove=prove)

    monkeypatch.setattr(plans, "plan_in_thread", waiting)
    yield go
    go.set()


def test_the_page_answers_at_once_and_says_what_is_worked_on(desk: Client, slow: threading.Event) -> None:
    answer = desk.get(PLAN, headers={"Accept": "text/html"})
    said = words(answer.text)
    assert "Working out what to buy, where, with which coupons." in said
    assert "1 wants, 2 tags at 2 stores, 1 coupons" in said
    assert "planning goes on, and nothing is lost" in said
    assert answer.headers["refresh"] == "8"
    assert desk.get(f"{PLAN}/state").json()["step"] == "looking"
    slow.set()
    while desk.get(f"{PLAN}/state").json()["step"] != "done":
        pass
    assert "Best possible" in page(desk, PLAN)


def test_planning_is_stopped_and_the_trip_changed_meanwhile(desk: Client, slow: threading.Event) -> None:
    assert "Planning" in words(page(desk, PLAN))
    answer = post(desk, f"{PLAN}/stop", {})
    assert str(answer.url).endswith("/desk/drafts/week")
    form = {
        "title": "This week",
        "day": "2026-12-05",
        "stores": ["birch"],
        "need.breakfast": "1",
        "welcome.breakfast": "1",
        "revision": "1",
        "then": "plan",
    }
    assert "Planning" in words(post(desk, "/desk/drafts/week", form).text)
    slow.set()
    while "Best possible" not in (text := page(desk, PLAN)):
        pass
    assert "1 × Wickel rolled oats Birch Lane Market" in words(text)


def test_a_plan_is_shown_with_its_gap_while_its_proof_is_looked_for(
    desk: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    go = threading.Event()
    really = plans.plan_in_thread

    def unproven(trip: Trip, *, prove: bool) -> Plan:
        gap = Proof(optimal=False, gap_cents=2, words="No better plan could save more than $0.02.")
        return msgspec.structs.replace(really(trip, prove=prove), proof=gap)

    async def proof(trip: Trip) -> Plan:
        assert await asyncio.to_thread(go.wait, 30)
        return really(trip, prove=True)

    monkeypatch.setattr(plans, "plan_in_thread", unproven)
    monkeypatch.setattr(plans, "prove_apart", proof)
    text = page(desk, PLAN)
    assert "No better plan could save more than $0.02." in words(text)
    assert "2 × Wickel rolled oats Alder Row Grocers" in words(text)
    assert "Being looked for: a better plan than this one, or the proof" in words(text)
    go.set()
    while "Being looked for" in words(arrived := page(desk, f"{PLAN}/arriving")):
        pass
    assert "The proof is there: Best possible: proven" in words(arrived)
    assert "Best possible" in words(page(desk, PLAN))


def test_a_page_of_an_older_state_is_told_so(desk: Client) -> None:
    address = re.search(r'data-arriving="([^"]+)"', page(desk, PLAN))
    assert address is not None
    post(desk, "/desk/drafts/week/decide", {"change": '{"do":"stay_away","store":"birch"}'})
    page(desk, PLAN)
    assert desk.get(html.unescape(address[1])).status_code == 409


# --- decisions -------------------------------------------------------------------------------


def test_a_scenario_is_taken_and_taken_back(desk: Client) -> None:
    change = change_of(all_compared(desk), "Without going to Alder Row Grocers")
    answer = post(desk, "/desk/drafts/week/decide", {"change": change})
    said = words(answer.text)
    assert "Kept: Not going to Alder Row Grocers. Take it back" in said
    assert "2 × Wickel rolled oats Birch Lane Market" in said
    batch = re.search(r'name="batch" value="(\d+)"', answer.text)
    assert batch is not None
    back = post(desk, "/desk/drafts/week/take-back", {"batch": batch[1]})
    assert "2 × Wickel rolled oats Alder Row Grocers" in words(back.text)


def test_a_pin_is_kept_to_told_and_given_up(desk: Client) -> None:
    spot = '{"store":"birch","product":"oats"}'
    answer = post(desk, "/desk/drafts/week/decide", {"spot": spot, "units": "2"})
    assert "2 × Wickel rolled oats Birch Lane Market" in words(answer.text)
    assert "At least 2 × Wickel rolled oats at Birch Lane Market Give up" in words(answer.text)
    change = '{"do":"unpin","store":"birch","product":"oats"}'
    given_up = post(desk, "/desk/drafts/week/decide", {"change": change})
    assert "None yet: the plan is free." in words(given_up.text)


def test_a_coupon_that_is_left_out_is_not_used(desk: Client) -> None:
    thing = '{"do":"forbid","thing":{"what":"coupon","id":"oats-50"}}'
    said = words(post(desk, "/desk/drafts/week/decide", {"change": thing}).text)
    assert "worth to you $4.00" in said
    assert "1 coupon is left out by you: 50 cents off one Wickel oats." in said


def test_a_decision_that_is_none_is_refused(desk: Client) -> None:
    for form in (
        {},
        {"change": "{"},
        {"change": '{"do":"fly"}'},
        {"spot": '{"store":"birch","product":"oats"}', "units": "0"},
    ):
        assert post(desk, "/desk/drafts/week/decide", form).status_code == 400
    unknown = '{"do":"pin","store":"nowhere","product":"oats","units":1}'
    said = words(post(desk, "/desk/drafts/week/decide", {"change": unknown}).text)
    assert "1 pin cannot be kept" in said


# --- to the phone ------------------------------------------------------------------------------


def send(client: Client) -> Any:
    """Sends what the plan's page shows."""
    of = re.search(r'name="of" value="([^"]+)"', page(client, PLAN))
    assert of is not None
    return post(client, "/desk/drafts/week/send", {"of": of[1]})


def test_the_trip_goes_to_the_phone_under_its_own_id_and_the_same_twice_is_once(desk: Client) -> None:
    assert "Nothing of this trip is on a phone yet." in words(page(desk, PLAN))
    said = words(send(desk).text)
    assert "Version 1 is ready. Phones take it with their next sync" in said
    package = desk.get("/api/trips/week").json()
    assert package["plan"]["totals"]["net_cents"] == 350
    assert "Phones carry just this, as version 1." in words(page(desk, PLAN))
    assert "phones carry version 1" in words(page(desk, "/desk"))


def test_what_changed_against_the_phones_is_told_before_it_is_sent(desk: Client) -> None:
    send(desk)
    Phone(desk, "phone-a", "week").sync(
        Phone(None, "phone-a", "week").event(
            {"kind": "in_trolley", "store": "alder", "product": "oats", "units": 1}
        )
    )
    thing = '{"do":"forbid","thing":{"what":"coupon","id":"oats-50"}}'
    post(desk, "/desk/drafts/week/decide", {"change": thing})
    said = words(all_compared(desk))
    assert "Phones carry version 1, which is another:" in said
    assert "The trip’s net cost is $0.50 more now." in said
    assert "No longer there, coupon: 50 cents off one Wickel oats" in said
    assert "A phone has reported 1 time on this trip." in said
    assert "Version 2 is ready." in words(send(desk).text)
    assert desk.get("/api/trips/week").json()["trip"]["version"] == 2


def test_what_she_did_not_see_is_not_sent(desk: Client) -> None:
    page(desk, PLAN)
    answer = post(desk, "/desk/drafts/week/send", {"of": "0" * 64})
    assert answer.status_code == 409
    assert "open the plan anew" in words(answer.text)
    assert desk.get("/api/trips/week").status_code == 404


def test_the_sheet_for_paper_lists_the_aisles_and_every_register(desk: Client) -> None:
    said = words(send(desk).text)
    assert "Aisle list Alder Row Grocers aisle 3 2 × Wickel rolled oats tag $2.00" in said
    assert "Hand over, in this order 50 cents off one Wickel oats : takes off $0.50." in said


# --- the first day -------------------------------------------------------------------------------


def test_the_first_page_says_what_to_do_first_and_offers_an_example(client: Client) -> None:
    said = words(page(client, "/desk"))
    assert "What to do first Write down the stores you go to" in said
    answer = post(client, "/desk/example", {})
    said = words(answer.text)
    assert "Kept: The example household of Vellinghay. Take it back" in said
    assert "Saturday in Vellinghay" in said
    assert "What to do first" not in said
    again = post(client, "/desk/example", {})
    assert again.status_code == 409
    batch = re.search(r'name="batch" value="(\d+)"', answer.text)
    assert batch is not None
    assert "What to do first" in words(post(client, "/desk/take-back", {"batch": batch[1]}).text)


def test_the_demo_household_plans_its_week_from_its_larder(tmp_path: Path) -> None:
    with paired(tmp_path / "data", demo=True, today=lambda: "2026-12-01") as client:
        while "Best possible" not in (text := page(client, "/desk/drafts/vellinghay-saturday/plan")):
            pass
        said = words(text)
        assert "worth to you $42.36" in said
        assert "Out of pocket $52.68" in said
        assert client.get("/api/trips/vellinghay-saturday").json()["plan"]["totals"]["net_cents"] == 4236


def test_what_a_record_says_is_never_markup(tmp_path: Path) -> None:
    bad = "<script>alert(1)</script>"
    records = (
        *HOUSEHOLD,
        Store(id="evil", name=bad),
        TripDraft(id="week", title=bad, day="2026-12-05", stores=("alder", "evil"), region=bad[:20]),
    )
    keep(tmp_path / "data", records)
    with paired(tmp_path / "data", today=lambda: "2026-12-01") as client:
        for address in ("/desk", "/desk/drafts/week", PLAN):
            assert bad not in page(client, address)
