"""Promise kept here: every slip, card and rain check is known from the day it came to the day it went."""

from __future__ import annotations

import msgspec

from counterfoil.after.balances import balances, next_wallet
from counterfoil.after.books import AtHome, Books, open_books
from counterfoil.after.held import key_of
from counterfoil.after.notes import (
    GiftCardSeen,
    PurchaseLine,
    RainCheckNoted,
    SlipNoted,
    UnplannedPurchase,
)
from counterfoil.after.purchases import bought
from counterfoil.engine.offers import GiftCard, RainCheck, RewardOffer, Slip, Tier, Wallet
from counterfoil.engine.papers import Line, NotPrinted, TransactionDone

from .month import (
    BRINDLEWICK,
    RAIN_CHECK_KEY,
    SLIP_KEY,
    SOAPS,
    WEEK_44,
    WEEK_44_EVENTS,
    belt,
    books,
    events,
    first_week,
    note,
    trip,
)


def slips(of: Books, day: str) -> list[tuple[str, str, str]]:
    return [(slip.key, slip.state, slip.gone) for slip in balances(of, day).slips]


def test_a_printed_slip_is_in_hand_until_its_last_day() -> None:
    (slip,) = balances(first_week(), "2026-11-14").slips

    assert (slip.key, slip.cents, slip.until, slip.state) == (SLIP_KEY, 100, "2026-11-14", "in hand")
    assert slip.came_from == "Printed by transaction 1 at Ostrel Pharmacy"
    assert slips(first_week(), "2026-11-15") == [(SLIP_KEY, "lapsed", "2026-11-14")]


def test_the_next_trip_spends_it_under_its_key() -> None:
    assert slips(books(), "2026-11-20") == [(SLIP_KEY, "spent", "2026-11-07")]


def test_a_slip_spent_elsewhere_is_gone_on_that_day() -> None:
    gone = note("n1", "2026-11-03", SlipNoted(slip=SLIP_KEY, state="spent elsewhere"))

    assert slips(first_week(gone), "2026-11-20") == [(SLIP_KEY, "spent elsewhere", "2026-11-03")]


def test_a_slip_that_did_not_print_never_was() -> None:
    happened = events(
        WEEK_44,
        TransactionDone(transaction=SOAPS),
        NotPrinted(done="week-44-01", offer="soap-reward"),
    )

    assert slips(first_week(week_44=happened), "2026-11-03") == []


def test_the_same_offer_prints_another_slip_next_week() -> None:
    again = trip("week-46", "2026-11-14", Wallet())
    both = open_books(
        [
            bought(WEEK_44, WEEK_44_EVENTS),
            bought(again, events(again, TransactionDone(transaction=SOAPS))),
        ]
    )

    assert [slip.key for slip in balances(both, "2026-11-14").slips] == [
        "week-44.soap-reward.ostrel.1.1",
        "week-46.soap-reward.ostrel.1.1",
    ]


def test_a_wallet_typed_by_hand_is_known_again_by_its_terms() -> None:
    """She wrote the slip into the next trip as it is printed, with the id that the plan showed."""
    typed = Slip(id="soap-reward.ostrel.1.1", store="ostrel", cents=100, until="2026-11-14")
    next_ = trip("week-45", "2026-11-07", Wallet(slips=(typed,)))

    assert slips(open_books([bought(WEEK_44, WEEK_44_EVENTS), bought(next_, ())]), "2026-11-08") == [
        (SLIP_KEY, "in hand", "")
    ]


def test_a_slip_of_an_unplanned_purchase_is_one_as_well() -> None:
    shop = note(
        "n1",
        "2026-11-03",
        UnplannedPurchase(
            store="ostrel",
            lines=(PurchaseLine(product="soap", units=1, cents=280),),
            slips=(Slip(id="till", store="ostrel", cents=50, until="2026-11-10"),),
        ),
    )

    assert [slip.key for slip in balances(first_week(shop), "2026-11-04").slips_in_hand()] == [
        "n1.till",
        SLIP_KEY,
    ]


def card(of: Books, day: str) -> list[tuple[str, int, int]]:
    return [(move.words, move.cents, move.left) for each in balances(of, day).cards for move in each.moves]


def test_a_gift_card_goes_down_by_what_it_paid() -> None:
    assert card(books(), "2026-11-03") == [
        ("As Week 44 has it", 150, 150),
        ("Paid on Week 44", -150, 0),
    ]


def test_a_balance_as_read_replaces_what_was_reckoned() -> None:
    read = note("n1", "2026-11-03", GiftCardSeen(card="brindle-card", store="brindlewick", cents=25))

    assert card(first_week(read), "2026-11-04")[-1] == ("Balance as read", 25, 25)


LOADED = RewardOffer(
    id="tea-card",
    store="brindlewick",
    description="A card of 1.00 for two teas",
    kind="gift_card",
    tiers=(Tier(threshold=2, cents=100),),
)


def test_a_card_that_was_loaded_is_there_and_one_that_was_not_is_not() -> None:
    teas = belt(WEEK_44, BRINDLEWICK, Line(product="tea", units=2))
    loads = TransactionDone(transaction=msgspec.structs.replace(teas, rewards=(LOADED,)))
    got = first_week(week_44=events(WEEK_44, loads))
    lost = first_week(week_44=events(WEEK_44, loads, NotPrinted(done="week-44-01", offer="tea-card")))

    assert [(each.key, each.cents) for each in balances(got, "2026-11-01").cards] == [
        ("brindle-card", 150),
        ("week-44.tea-card.1", 100),
    ]
    assert [each.key for each in balances(lost, "2026-11-01").cards] == ["brindle-card"]


def test_a_rain_check_lasts_until_its_units_are_used() -> None:
    (taken,) = balances(first_week(), "2026-11-03").rain_checks_in_hand()
    assert (taken.key, taken.units, taken.until) == (RAIN_CHECK_KEY, 2, "2026-11-28")

    (left,) = balances(books(), "2026-11-08").rain_checks
    assert (left.taken, left.used, left.units) == (2, 1, 1)
    lost = note("n1", "2026-11-10", RainCheckNoted(rain_check=RAIN_CHECK_KEY, units=1, state="lost"))
    assert balances(books(lost), "2026-11-10").rain_checks_in_hand() == []
    assert balances(books(), "2026-11-29").rain_checks_in_hand() == []


def test_two_rain_checks_alike_are_two() -> None:
    alike = [
        RainCheck(id=name, store="brindlewick", product="towels", cents=125, units=1) for name in ("a", "b")
    ]
    of = open_books([bought(trip("week-44", "2026-10-31", Wallet(rain_checks=tuple(alike))), ())])

    assert [each.key for each in balances(of, "2026-11-01").rain_checks_in_hand()] == ["a", "b"]


def test_the_next_wallet_holds_what_can_be_spent_there_and_then() -> None:
    wallet = next_wallet(first_week(), "2026-11-07", ["ostrel", "brindlewick"], cash_cents=5_000)

    assert wallet == Wallet(
        slips=(Slip(id=SLIP_KEY, store="ostrel", cents=100, until="2026-11-14", offer="soap-reward"),),
        rain_checks=(
            RainCheck(
                id=RAIN_CHECK_KEY,
                store="brindlewick",
                product="towels",
                cents=125,
                units=2,
                until="2026-11-28",
            ),
        ),
        cash_cents=5_000,
    )
    assert next_wallet(first_week(), "2026-11-15", ["ostrel"]) == Wallet()


def test_papers_typed_in_at_home_are_known_from_the_first_day() -> None:
    wallet = Wallet(
        slips=(
            Slip(id="late", store="ostrel", cents=200),
            Slip(id="soon", store="ostrel", cents=300, until="2026-11-05"),
        ),
        gift_cards=(GiftCard(id="brindle-card", store="brindlewick", cents=900),),
    )
    home = AtHome(wallet=wallet)

    carried = next_wallet(first_week(at_home=home), "2026-11-01", ["ostrel"])
    assert [slip.id for slip in carried.slips] == ["soon", SLIP_KEY, "late"]
    # The trip's own word on the card's balance is the newer one.
    assert [each.cents for each in balances(first_week(at_home=home), "2026-11-08").cards] == [0]


def test_a_key_that_would_be_too_long_is_shortened_and_stays_its_own() -> None:
    long = [key_of("w" * 79, paper) for paper in ("one", "two")]

    assert [len(key) for key in long] == [80, 80]
    assert long[0] != long[1]
