"""The household's notes as typed rows: checked before they are kept, with what they say of prices and stock.

Routes ask ``Notebook``, not the store. A note that cannot be followed (a rebate claimed twice) is turned
down before it is written; nothing that was written is ever changed.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Sequence

import msgspec

from .after.books import Books
from .after.claims import second_thoughts
from .after.notes import ClaimNoted, Note, TakenBack
from .after.receipt_photo import ReceiptPhoto
from .intake.bad_input import BadInput, Finding, shorten
from .reckoned_notes import OF_GOODS, rows_of
from .store.notes import Notes, NoteTaken, StoredNote, WrittenNote
from .store.photos import NoRoomForPhotos, Photo

_read = msgspec.json.Decoder(Note).decode
# Equal notes are equal bytes, so that a form that was sent twice is seen to be one.
_encode = msgspec.json.Encoder(order="deterministic").encode


class Notebook:
    """The notes behind the Desk."""

    def __init__(self, kept: Notes) -> None:
        self.kept = kept
        self._read_before: dict[int, Note] = {}

    async def rows(self) -> Sequence[Note]:
        """Every row in order of arrival, corrections included; each is decoded once."""
        return [self._decoded(stored) for stored in await self.kept.notes()]

    async def write(
        self, note: Note, books: Books, *, today: str, currency: str, device: str, photo: Photo | None = None
    ) -> bool:
        """Keeps a note; False if it was kept before. Raises ``BadInput`` where it cannot be followed."""
        if any(row.id == note.id for row in books.rows):
            return await self._add(note, books, currency, device, photo)
        if isinstance(note.what, ClaimNoted | TakenBack):
            problems = second_thoughts(books, note, today)
            if problems:
                raise BadInput(
                    *(
                        Finding(field=each.field.rpartition(".")[2], value=each.value, mend=each.mend)
                        for each in problems
                    )
                )
        return await self._add(note, books, currency, device, photo)

    async def _add(self, note: Note, books: Books, currency: str, device: str, photo: Photo | None) -> bool:
        after = books.with_note(note)
        root = _root(after.rows, note)
        of_goods = (
            root if any(row.id == root and isinstance(row.what, OF_GOODS) for row in after.rows) else ""
        )
        prices, stock = rows_of([row for row in after.notes if row.id == of_goods], currency)
        written = WrittenNote(
            id=note.id,
            day=note.day,
            kind=msgspec.to_builtins(note.what)["kind"],
            document=_encode(note),
            source=of_goods,
            prices=tuple(prices),
            stock=tuple(stock),
        )
        try:
            return await self.kept.add(written, device=device, photo=photo)
        except NoteTaken:
            mend = "this form was sent before, with something else in it: reload the page and write it anew"
            raise BadInput(Finding(field="", value=shorten(note.id), mend=mend)) from None
        except NoRoomForPhotos:
            mend = "there is no more room for photos: keep this one elsewhere"
            raise BadInput(Finding(field="photo", value="", mend=mend)) from None

    def _decoded(self, stored: StoredNote) -> Note:
        if stored.sequence not in self._read_before:
            self._read_before[stored.sequence] = _read(stored.document)
        return self._read_before[stored.sequence]


def fresh_id() -> str:
    """An id for a note that is about to be written."""
    return f"note-{uuid.uuid4().hex}"


def photo_of(found: ReceiptPhoto) -> Photo:
    """A photo under the hash of its bytes."""
    return Photo(
        id=hashlib.sha256(found.jpeg).hexdigest(), jpeg=found.jpeg, width=found.width, height=found.height
    )


def _root(rows: Sequence[Note], note: Note) -> str:
    """The first of the notes that ``note`` corrects or takes back; itself where it does neither."""
    about: dict[str, str] = {}
    for row in rows:
        about[row.id] = row.what.note if isinstance(row.what, TakenBack) else row.corrects or row.id
    seen = {note.id}
    at = note.id
    while (further := about.get(at, at)) not in seen and further in about:
        seen.add(further)
        at = further
    return at
