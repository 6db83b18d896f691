"""A household from records, without a store beneath it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from counterfoil.home.kinds import KINDS, Record, id_of, kind_of
from counterfoil.homes import Snapshot


def household_of(records: Iterable[Record]) -> Snapshot:
    """The snapshot that these records make."""
    by_kind: dict[str, dict[str, Any]] = {name: {} for name in KINDS}
    for record in records:
        by_kind[kind_of(record).name][id_of(record)] = record
    return Snapshot(batch=0, records=by_kind, revisions={})
