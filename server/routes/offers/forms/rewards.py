"""The form of a reward: its steps, by units or by spend."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ....engine.offers import RewardOffer, Tier
from ....home.kinds import Record
from ....home.naming import id_from
from ....home.saying import REWARD_KINDS
from .form import Form, Written, optional, rows_of, texts
from .goods import MEASURE_CHOICES, NEEDS_A_STORE, goods, of_products, products_or_everything, saying_of
from .sheet import Sheet, Values

MOST_TIERS = 6


def read(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The reward of a sheet."""
    fields, saying = sheet.fields, saying_of(sheet)
    store = fields.known("store", sheet.snapshot.stores, what="store", needed=NEEDS_A_STORE)
    by = fields.choice("by", ("units", "spend"))
    tiers = _tiers(sheet, spend=by == "spend")
    products = products_or_everything(sheet)
    first = tiers[0] if tiers else Tier(threshold=1, cents=1)
    asked = f"Spend {saying.money(first.threshold)} on" if by == "spend" else f"Buy {first.threshold}"
    description = fields.text("description")
    description = description or f"{asked} {goods(saying, products)}, get {saying.money(first.cents)}"[:400]
    per_transaction = fields.whole("per_transaction", low=1)
    valid = fields.whole("valid_days", high=3_650)
    return (
        RewardOffer(
            id=id or id_from(description, sheet.snapshot.rewards, "reward"),
            store=store or "",
            description=description,
            kind=fields.choice("kind", ("slip", "gift_card", "points")),
            tiers=tiers or (first,),
            by=by,
            measure=fields.choice("measure", ("before_coupons", "after_store_coupons", "after_all_coupons")),
            products=products,
            per_transaction=per_transaction,
            per_household=fields.whole("per_household", low=1),
            rolls=fields.flag("rolls"),
            valid_days=14 if valid is None else valid,
            from_date=fields.day("from_date"),
            until=fields.day("until"),
        ),
    )


def fill(reward: RewardOffer, written: Written) -> Values:
    """A reward as it is typed."""
    values: Values = {
        **texts(
            store=reward.store,
            description=reward.description,
            kind=reward.kind,
            by=reward.by,
            measure=reward.measure,
            from_date=reward.from_date,
            until=reward.until,
            rolls="yes" if reward.rolls else "",
            everything="" if reward.products else "yes",
        ),
        "products": list(reward.products),
        "per_transaction": optional(reward.per_transaction),
        "per_household": optional(reward.per_household),
        "valid_days": [str(reward.valid_days)],
        "tiers": [str(len(reward.tiers))],
    }
    for row, tier in enumerate(reward.tiers):
        spend = reward.by == "spend"
        values[f"threshold-{row}"] = [written(tier.threshold) if spend else str(tier.threshold)]
        values[f"back-{row}"] = [written(tier.cents)]
    return values


def _tiers(sheet: Sheet, *, spend: bool) -> tuple[Tier, ...]:
    fields = sheet.fields
    tiers: list[Tier] = []
    for row in range(rows_of(fields.typed, "tiers", 1, MOST_TIERS)):
        threshold_field, back_field = f"threshold-{row}", f"back-{row}"
        if row and not fields.text(threshold_field) and not fields.text(back_field):
            continue  # a step that was left empty is none
        needed = "write how much must be spent" if spend else "write how many must be bought"
        threshold = (
            fields.cents(threshold_field, needed=needed, least=1)
            if spend
            else fields.whole(threshold_field, needed=needed, low=1)
        )
        cents = fields.cents(back_field, needed="write what comes back", least=1)
        tiers.append(Tier(threshold=threshold or 1, cents=cents or 1))
    return tuple(tiers)


def _reward_field(path: str) -> str:
    if step := re.match(r"tiers\[(\d)\]\.(threshold|cents)", path):
        return f"{'back' if step[2] == 'cents' else 'threshold'}-{step[1]}"
    return of_products({"id": "description", "tiers": "threshold-0"}.get(path, path))


def _reward_context(sheet: Sheet) -> Mapping[str, object]:
    return {
        "tiers": rows_of(sheet.fields.typed, "tiers", 1, MOST_TIERS),
        "most_tiers": MOST_TIERS,
        "reward_kinds": tuple(REWARD_KINDS.items()),
        "measures": MEASURE_CHOICES,
    }


FORM = Form(
    kind="reward",
    template="offers/reward.html",
    read=read,
    fill=fill,
    field_of=_reward_field,
    blank={"rolls": ["yes"], "per_transaction": ["1"], "valid_days": ["14"], "by": ["units"]},
    choosers=lambda typed: ("products",),
    more=("tiers", MOST_TIERS, "threshold-"),
    context=_reward_context,
)
