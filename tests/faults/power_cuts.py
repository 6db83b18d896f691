"""Kills the server at random moments of syncs, again and again, and counts what came of it."""

from __future__ import annotations

import json
import random
import socket
import threading
from pathlib import Path

import msgspec

from tests.faults.carrier import Carrier, nothing_lost
from tests.faults.victim import ANSWER_SECONDS, Victim, read_answer, request_bytes
from tests.server.conftest import as_json, small_trip

# Seconds after the first byte of a sync within which the server dies; a sync takes some 10 ms.
LATEST_CUT = 0.03


class Tally(msgspec.Struct, kw_only=True):
    """``cuts``: times the server was killed; ``heard``: syncs whose answer arrived all the same;
    ``stored_unheard``: events that were committed though no phone was told."""

    cuts: int = 0
    heard: int = 0
    stored_unheard: int = 0
    events: int = 0


def cut_again_and_again(data: Path, cuts: int, seed: int = 1) -> Tally:
    """Two phones shop while the server dies ``cuts`` times; asserts that nothing was lost or doubled."""
    dice = random.Random(seed)
    tally = Tally()
    phones = [Carrier("phone-a"), Carrier("phone-b")]
    victim = Victim(data)
    try:
        victim.start()
        status, _, _ = victim.post("/api/trips", as_json(small_trip()))
        assert status == 201
        for _ in range(cuts):
            for phone in phones:
                for _ in range(dice.randint(1, 4)):
                    phone.note(dice.randint(1, 3))
            _sync_and_cut(victim, phones, dice, tally)
            tally.cuts += 1
            victim.start()
            tally.stored_unheard += _already_there(victim, phones)
        for _ in range(2):  # the second round brings each what the other sent in the first
            for phone in phones:
                while _sync(victim, phone):
                    pass
    finally:
        victim.kill()
    tally.events = sum(len(phone.own) for phone in phones)
    nothing_lost(phones, data / "counterfoil.sqlite3")
    return tally


def _sync_and_cut(victim: Victim, phones: list[Carrier], dice: random.Random, tally: Tally) -> None:
    """Both phones sync at once; somewhere in it the server dies."""

    def sync(phone: Carrier, slowly: bool) -> None:
        wire = request_bytes("/sync", json.dumps(phone.batch()).encode())
        try:
            with socket.create_connection(("127.0.0.1", victim.port), ANSWER_SECONDS) as connection:
                half = len(wire) // 2 if slowly else len(wire)
                connection.sendall(wire[:half])
                connection.sendall(wire[half:])
                status, _, answer = read_answer(connection)
        except OSError:
            return
        assert status == 200, answer
        phone.settle(answer)
        tally.heard += 1

    moment = dice.random() * LATEST_CUT
    threads = [threading.Thread(target=sync, args=(phone, dice.random() < 0.3)) for phone in phones]
    for thread in threads:
        thread.start()
    threading.Event().wait(moment)  # the moment itself is what is tested
    victim.kill()
    for thread in threads:
        thread.join()


def _already_there(victim: Victim, phones: list[Carrier]) -> int:
    """How many events of the outboxes the server has: they were committed, and their answer was cut."""
    there = 0
    for phone in phones:
        onlooker = Carrier(f"onlooker-of-{phone.device}")
        while _sync(victim, onlooker):
            pass
        there += len(phone.outbox.keys() & onlooker.known.keys())
    return there


def _sync(victim: Victim, phone: Carrier) -> bool:
    status, _, answer = victim.post("/sync", phone.batch())
    assert status == 200, answer
    return phone.settle(answer)
