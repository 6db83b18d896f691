"""A phone by the letter of DEVELOPERS.md, "Sync": an outbox, what it knows, a cursor, a log.

It does no networking: ``batch`` is what it would send, ``settle`` takes an answer that arrived.
Whatever happens in between is the matter of a test.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Any

TRIP = "oats-week"
Event = dict[str, Any]


class Carrier:
    """One phone. ``own``: every event that it ever made; ``known``: these and those of others, by id."""

    def __init__(self, device: str, trip: str = TRIP) -> None:
        self.device = device
        self.trip = trip
        self.own: dict[str, Event] = {}
        self.known: dict[str, Event] = {}
        self.outbox: dict[str, Event] = {}
        self.cursor: int | None = None
        self.log: str | None = None

    def note(self, units: int = 1) -> Event:
        """Puts so many boxes of oats in the trolley."""
        counter = len(self.own) + 1
        name = hashlib.sha256(self.device.encode()).hexdigest()
        event: Event = {
            "id": f"01943f00-{counter:04x}-7000-8000-{name[:12]}",
            "device": self.device,
            "counter": counter,
            "at": "2026-12-05T10:00:00.000Z",
            "trip": self.trip,
            "what": {"kind": "in_trolley", "store": "alder", "product": "oats", "units": units},
        }
        self.own[event["id"]] = self.known[event["id"]] = self.outbox[event["id"]] = event
        return event

    def batch(self, at_most: int = 100) -> Event:
        """What it sends now."""
        return {
            "protocol": 1,
            "device": self.device,
            "trip": self.trip,
            "cursor": self.cursor,
            "log": self.log,
            "events": list(self.outbox.values())[:at_most],
        }

    def settle(self, answer: Event) -> bool:
        """Takes an answer in; whether there is more to ask for. Late and doubled answers do no harm."""
        if self.log is not None and answer["log"] != self.log:
            self.outbox = dict(self.own)  # the server was put back from a backup
            self.cursor = None
            self.log = answer["log"]
            return True
        self.log = answer["log"]
        for event_id in answer["acknowledged"]:
            self.outbox.pop(event_id, None)
        for event in answer["events"]:
            self.known.setdefault(event["id"], event)
        # An answer that was overtaken must not turn the cursor back past what a later one gave: harmless,
        # since events are taken by id, but it would be asked for twice.
        self.cursor = max(self.cursor or 0, answer["cursor"])
        return bool(answer["more"] or self.outbox)


def nothing_lost(phones: Sequence[Carrier], database: Path) -> None:
    """Every event that any phone made is at the server exactly once, and on every phone, and is the same."""
    made = {event_id: event for phone in phones for event_id, event in phone.own.items()}
    with sqlite3.connect(database) as connection:
        stored = [row[0] for row in connection.execute("SELECT id FROM events ORDER BY id")]
        counted = connection.execute("SELECT events FROM trip_progress").fetchall()
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert stored == sorted(made)
    assert counted == [(len(made),)]
    for phone in phones:
        assert phone.outbox == {}
        assert phone.known == made, phone.device
