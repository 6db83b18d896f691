"""The families of made-up trips, by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from counterfoil.engine.offers import Trip

from .stacked_trips import crowded_trip, stacked_trip
from .tiny_trips import tiny_trip

FAMILIES: Mapping[str, Callable[[int], Trip]] = {
    "tiny": tiny_trip,
    "stacked": stacked_trip,
    "crowded": crowded_trip,
}
