"""By which key a device's own name was first used: nobody sends events under another's name.

A device names itself in every event (``phone-7c1f``) and keeps that name with its log; its key comes and
goes. So the name belongs to the key that first sent under it, and passes on where that key is over: revoked,
or left behind by a browser that paired again. What waits in an outbox is then sent by the new key.
"""

from __future__ import annotations

import sqlite3

from .interface import THIS_MACHINE, Device, NameTaken


def claim(connection: sqlite3.Connection, name: str, sender: Device, now: str) -> None:
    """Ties ``name`` to the key of ``sender`` where it is free. Raises ``NameTaken`` where it is another's.

    Who sits at a machine that is trusted may send under any name. A name that was first used there passes
    to an owner's key, once that browser is paired after all.
    """
    row = connection.execute(
        "SELECT senders.device, devices.name, devices.revoked_at FROM senders"
        " LEFT JOIN devices ON devices.id = senders.device WHERE senders.name = ?",
        (name,),
    ).fetchone()
    if row is None:
        connection.execute(
            "INSERT INTO senders (name, device, since) VALUES (?, ?, ?)", (name, sender.id, now)
        )
        return
    holder, called, revoked_at = row
    if sender.id in (holder, THIS_MACHINE.id):
        return
    if holder == THIS_MACHINE.id:
        if sender.role != "owner":
            raise NameTaken("")
    elif revoked_at == "":
        raise NameTaken(called)
    connection.execute("UPDATE senders SET device = ?, since = ? WHERE name = ?", (sender.id, now, name))


def pass_on(connection: sqlite3.Connection, old: str, new: str, now: str) -> None:
    """A browser paired again: its old key ends, and what it sent under is the new key's."""
    connection.execute("UPDATE devices SET revoked_at = ? WHERE id = ? AND revoked_at = ''", (now, old))
    connection.execute("UPDATE senders SET device = ?, since = ? WHERE device = ?", (new, now, old))
