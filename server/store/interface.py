"""What a store does, for whoever writes another: SQLite is one engine behind these names.

Everything is a coroutine. A method that writes has either written all of it durably when it
returns, or nothing. Documents are bytes of JSON, so that a store needs to know no document.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol, runtime_checkable

import msgspec

PAGE_OF_EVENTS = 500  # the most events of others in one answer; ``more`` says that there are further ones


class StoredTrip(msgspec.Struct, frozen=True, kw_only=True):
    """A trip as kept: ``document`` is its JSON, ``content`` the SHA-256 of those bytes (hex)."""

    id: str
    version: int
    title: str
    day: str
    content: str
    document: bytes
    saved_at: str


class TripProgress(msgspec.Struct, frozen=True, kw_only=True):
    """A trip in the list, with what its events come to (see ``projections.py``).

    ``transactions_done``: those that were not taken back; ``last_heard``: when the newest event
    arrived, "" before the first.
    """

    id: str
    version: int
    title: str
    day: str
    content: str
    events: int
    devices: int
    transactions_done: int
    last_heard: str


class ArrivingEvent(msgspec.Struct, frozen=True, kw_only=True):
    """An event as a device sent it. ``payload``: the JSON text of ``what``, to the letter."""

    id: str
    device: str
    counter: int
    at: str
    trip: str
    kind: str
    payload: str


class StoredEvent(msgspec.Struct, frozen=True, kw_only=True):
    """An event as kept: ``sequence`` is the order of arrival, ``received`` the server's clock (UTC)."""

    sequence: int
    id: str
    device: str
    counter: int
    at: str
    trip: str
    kind: str
    payload: str
    received: str


class Exchange(msgspec.Struct, frozen=True, kw_only=True):
    """What came of a batch.

    ``acknowledged``: ids now stored, new or known, in the order sent. ``unknown_trips``: ids of
    events of trips that are not here. ``conflicts``: ids that are taken by an event of other
    content; if there are any, nothing of the batch was stored. ``others``: what other devices
    added after the cursor, in order of arrival; ``cursor``: where to go on. ``trip_version``: of
    the trip asked about, None if there is none.
    """

    acknowledged: tuple[str, ...]
    unknown_trips: tuple[str, ...]
    conflicts: tuple[str, ...]
    others: tuple[StoredEvent, ...]
    cursor: int
    more: bool
    trip_version: int | None = None


Role = Literal["owner", "phone"]  # an owner also pairs and revokes


class Device(msgspec.Struct, frozen=True, kw_only=True):
    """A paired device. ``last_seen``: noted once an hour; ``revoked_at``: "" while it may come in."""

    id: str
    role: Role
    name: str
    paired_at: str
    last_seen: str
    revoked_at: str


# Whoever sits at a machine that is trusted, and needs no key.
THIS_MACHINE = Device(
    id="this-machine", role="owner", name="This machine", paired_at="", last_seen="", revoked_at=""
)


class TakenIn(msgspec.Struct, frozen=True, kw_only=True):
    """How many trips and events an import added, and how many were here before (or newer here)."""

    trips: int
    events: int
    trips_known: int
    events_known: int


class EventsDiffer(Exception):
    """Ids of events that are kept here with other content."""

    def __init__(self, ids: Sequence[str]) -> None:
        super().__init__(f"{len(ids)} events differ, first {ids[0]}")
        self.ids = tuple(ids)


class NameTaken(Exception):
    """The name that a device sends under belongs to another's key; ``holder``: what that one is called, ""
    for whoever sits at this machine."""

    def __init__(self, holder: str) -> None:
        super().__init__(f"the name belongs to {holder or THIS_MACHINE.name}")
        self.holder = holder


class VersionTaken(Exception):
    """A trip of this id is kept in ``kept_version``, which the one to be saved does not follow."""

    def __init__(self, kept_version: int) -> None:
        super().__init__(f"version {kept_version} is kept")
        self.kept_version = kept_version


@runtime_checkable
class Store(Protocol):
    """The store. Open it once, close it once; between the two any task may call anything."""

    async def open(self) -> None:
        """Makes or checks the data; raises ``StoreUnusable`` with the mend in its message."""
        ...

    async def close(self) -> None:
        """Lets go of the files. Closing twice does nothing."""
        ...

    async def trips(self) -> Sequence[TripProgress]:
        """All trips, newest day first."""
        ...

    async def trip(self, trip_id: str) -> StoredTrip | None:
        """One trip, or None."""
        ...

    async def save_trip(self, *, trip_id: str, version: int, title: str, day: str, document: bytes) -> bool:
        """Keeps a new trip, or a higher version of one; False if just this content was kept already.

        Raises ``VersionTaken`` for a version that is not higher and has other content.
        """
        ...

    async def exchange(
        self,
        device: str,
        trip: str | None,
        cursor: int,
        events: Sequence[ArrivingEvent],
        sender: Device = THIS_MACHINE,
    ) -> Exchange:
        """Appends what is new and answers with what ``device`` has not seen of ``trip`` (None: of all).

        ``sender``: whose key it came with. The first that sends under the name ``device`` keeps it; raises
        ``NameTaken`` for any other, as long as that key is good, and nothing was appended.

        Safe to repeat. A cursor beyond the log (the data was put back from a backup) counts as 0.
        """
        ...

    async def events_of(self, trip_id: str) -> Sequence[StoredEvent]:
        """All events of a trip, in order of arrival."""
        ...

    async def take_in(self, trips: Sequence[StoredTrip], events: Sequence[StoredEvent]) -> TakenIn:
        """Adds what another store exported, in one transaction; what is here already stays as it is.

        Events get new sequence numbers in the order given and keep when they were received. Raises
        ``EventsDiffer`` if an id is taken by an event of other content; then nothing was added.
        """
        ...

    async def rebuild(self) -> int:
        """Throws the projections away and reckons them again from the events; how many trips."""
        ...

    async def log(self) -> str:
        """Which log this is. It is another once the data were put back from a backup."""
        ...


@runtime_checkable
class Keyring(Protocol):
    """Who may come in. Keys and codes are made here, told once, and kept as hashes only."""

    async def make_code(self, role: Role, seconds: int) -> str:
        """A pairing code that one device can turn into a key within ``seconds``; then it is dead."""
        ...

    async def redeem(self, code: str, name: str, *, instead_of: str = "") -> tuple[str, Device] | None:
        """The key for a code, and whose it is now; None for one that is unknown, used or too old.

        ``instead_of``: the device that pairs again; its key ends, and the new one sends under its names.
        """
        ...

    async def device_of(self, key: str) -> Device | None:
        """Whose key it is, revoked ones included; None: nobody's."""
        ...

    async def seen(self, device: Device) -> bool:
        """Notes that the device was here; True if that is new for this hour."""
        ...

    async def devices(self) -> Sequence[Device]:
        """All devices, the newest first."""
        ...

    async def revoke(self, device_id: str) -> bool:
        """From now on this device's key opens nothing; False: no such device, or revoked before."""
        ...

    async def has_owner(self) -> bool:
        """Whether anybody can pair and revoke."""
        ...


class StoreUnusable(Exception):
    """The data folder cannot be used; the message says why and what to do."""


class StoreUnavailable(Exception):
    """What was asked was not done, wholly, and can be asked again after ``retry_seconds``.

    The database is locked by another program, the disk is full, or the file is damaged; the
    message says which, and what to do.
    """

    def __init__(self, message: str, retry_seconds: int) -> None:
        super().__init__(message)
        self.retry_seconds = retry_seconds
