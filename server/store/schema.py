"""The schema, step by numbered step.

A step that has been released is never edited: what it made is out there. A change is a new step with the
next number, in the file of what it is about.
"""

from __future__ import annotations

from .migration import Migration
from .schema_of_household import STEPS_OF_HOUSEHOLD
from .schema_of_trips import STEPS_OF_TRIPS

MIGRATIONS: tuple[Migration, ...] = tuple(
    sorted((*STEPS_OF_TRIPS, *STEPS_OF_HOUSEHOLD), key=lambda step: step.number)
)
