"""Ids that nobody has to type: made of a record's name, unique among those that are there."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

LONGEST_SLUG = 60  # characters; an id has at most 80, and a number may follow
_NO_LETTERS = re.compile(r"[^a-z0-9]+")


def id_from(name: str, taken: Container[str], otherwise: str = "record") -> str:
    """An id for ``name``: ``Wickel rolled oats, 500 g`` -> ``wickel-rolled-oats-500-g``, then ``...-2``.

    ``otherwise``: what it begins with where the name has no letter that an id may have.
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = _NO_LETTERS.sub("-", plain).strip("-")[:LONGEST_SLUG].strip("-") or otherwise
    number, id = 2, slug
    while id in taken:
        id, number = f"{slug}-{number}", number + 1
    return id
