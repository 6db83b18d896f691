"""The JSON Schema of each document, made from the structs that decode it."""

from __future__ import annotations

from typing import Any

import msgspec

from ..engine.offers import Trip
from ..engine.papers import Plan, Receipt, Transaction

DOCUMENTS: dict[str, type[msgspec.Struct]] = {
    "trip": Trip,
    "plan": Plan,
    "transaction": Transaction,
    "receipt": Receipt,
}


def schema_of(name: str) -> dict[str, Any]:
    """The schema of one of ``DOCUMENTS`` (JSON Schema, draft 2020-12). Raises KeyError for another name."""
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return dialect | msgspec.json.schema(DOCUMENTS[name])
