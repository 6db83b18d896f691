"""What the events of a trip come to, reckoned again whenever the trip hears something.

A projection holds nothing that the events do not: ``rebuild`` empties the tables and reckons
everything anew, and must give the same rows. Payloads are read leniently here: what a device of
another version sent stays kept and counted, even if it cannot be read.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Mapping

import msgspec


class _Undone(msgspec.Struct):
    """Which event is taken back."""

    event: str = ""


_read_undone = msgspec.json.Decoder(_Undone).decode


def standing(undone_by: Mapping[str, Iterable[str]]) -> Callable[[str], bool]:
    """Whether an event still stands, given which events take it back (event id -> ids of undos).

    An undo can itself be undone, so an event falls only by an undo that stands. Two undos that
    name each other (no honest phone sends such) count as if neither were there.
    """
    settled: dict[str, bool] = {}

    def stands(event: str, asked_by: frozenset[str]) -> bool:
        if event not in settled:
            asking = asked_by | {event}
            settled[event] = not any(
                undo not in asking and stands(undo, asking) for undo in undone_by.get(event, ())
            )
        return settled[event]

    return lambda event: stands(event, frozenset())


def reckon(connection: sqlite3.Connection, trip: str) -> None:
    """Writes the trip's row of ``trip_progress`` from its events, inside the caller's transaction."""
    counted = connection.execute(
        "SELECT COUNT(*), COUNT(DISTINCT device), COALESCE(MAX(received), '') FROM events WHERE trip = ?",
        (trip,),
    )
    [(events, devices, last_heard)] = counted
    rows = connection.execute(
        "SELECT id, kind, CASE kind WHEN 'undone' THEN payload ELSE '' END FROM events"
        " WHERE trip = ? AND kind IN ('transaction_done', 'undone')"
        " ORDER BY sequence",
        (trip,),
    )
    undone_by: dict[str, list[str]] = {}
    done: list[str] = []
    for event, kind, payload in rows:
        if kind == "transaction_done":
            done.append(event)
            continue
        try:
            undone_by.setdefault(_read_undone(payload).event, []).append(event)
        except (msgspec.MsgspecError, RecursionError):
            continue  # kept and counted above; nothing can be told from it
    stands = standing(undone_by)
    connection.execute(
        "INSERT INTO trip_progress (trip, events, devices, transactions_done, last_heard)"
        " VALUES (?, ?, ?, ?, ?) ON CONFLICT (trip) DO UPDATE SET"
        " events = excluded.events, devices = excluded.devices,"
        " transactions_done = excluded.transactions_done, last_heard = excluded.last_heard",
        (trip, events, devices, sum(stands(event) for event in done), last_heard),
    )


def rebuild(connection: sqlite3.Connection) -> int:
    """Empties the projections and reckons every trip's again; how many trips."""
    connection.execute("DELETE FROM trip_progress")
    trips = [row[0] for row in connection.execute("SELECT id FROM trips ORDER BY id")]
    for trip in trips:
        reckon(connection, trip)
    return len(trips)
