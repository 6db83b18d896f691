"""Reads the shared vectors, and says where an answer differs from what a vector expects."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any, cast

FOLDER = Path(__file__).resolve().parent.parent / "vectors"

# A vector is one JSON file: story, source, input, and the fields of the answer that it fixes.
Vector = dict[str, Any]


@cache
def vectors(kind: str) -> dict[str, Vector]:
    """The vectors of a kind (a folder of ``tests/vectors``) by name."""
    return {path.stem: json.loads(path.read_text()) for path in sorted((FOLDER / kind).glob("*.json"))}


def differences(expected: object, answer: object, place: str = "") -> list[str]:
    """Where ``answer`` is not what is ``expected``; a field that is not expected may be anything.

    A list must be as long as the expected one. ``[]`` and an absent field are the same, as in
    the documents.
    """
    if isinstance(expected, dict):
        found = cast("dict[str, object]", answer) if isinstance(answer, dict) else {}
        fields = cast("dict[str, object]", expected).items()
        return [
            line for key, value in fields for line in differences(value, found.get(key), f"{place}.{key}")
        ]
    if isinstance(expected, list):
        wanted = cast("list[object]", expected)
        items = cast("list[object]", answer or [])
        if len(items) != len(wanted):
            return [f"{place}: {len(wanted)} expected, {len(items)} there"]
        pairs = enumerate(zip(wanted, items, strict=True))
        return [line for i, (value, item) in pairs for line in differences(value, item, f"{place}[{i}]")]
    return [] if expected == answer else [f"{place}: {expected!r} expected, {answer!r} there"]
