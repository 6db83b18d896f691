"""Keys are revoked, lost and made anew, and old backups are put back, by dice with a seed: whatever a phone
noted is there once in the end, and on every phone."""

from __future__ import annotations

import random
from contextlib import ExitStack, closing
from http import HTTPStatus
from pathlib import Path

import pytest

from counterfoil.store.copies import back_up, restore
from counterfoil.store.sqlite import FILE_NAME
from tests.faults.carrier import Carrier, nothing_lost
from tests.server.conftest import Client, as_json, paired, small_trip
from tests.server.test_access import code_of, pair
from tests.server.test_sync_names import browser, revoke

STEPS = 40


class Town:
    """A server over ``data`` that may be put back from a backup, and two phones, each in its browser."""

    def __init__(self, data: Path, seed: int) -> None:
        self._data = data
        self._copy = data.with_name("copy")
        self._dice = random.Random(seed)
        self._running = ExitStack()
        self._desk: Client = self._running.enter_context(paired(data))
        self._desk.post("/api/trips", json=as_json(small_trip()))
        back_up(self._data, self._copy)
        self.phones = [Carrier("phone-a"), Carrier("phone-b")]
        self._browsers = {phone.device: browser(self._desk) for phone in self.phones}
        for phone in self.phones:
            self._pair(phone)

    def step(self) -> None:
        """Something is noted, then something happens."""
        phone = self._dice.choice(self.phones)
        phone.note()
        happening = self._dice.choices(
            (self._sync, self._pair, self._lose_key, self._revoke, self._back_up, self._restore),
            weights=(12, 2, 2, 2, 2, 1),
        )[0]
        happening(phone)

    def come_home(self) -> None:
        """Somebody at the Desk sees to every phone; two rounds, so that each hears of the other."""
        for _ in range(2):
            for phone in self.phones:
                while not self._see_to(phone):
                    pass
        self.close()

    def close(self) -> None:
        self._running.close()

    # --- what may happen ---------------------------------------------------------------

    def _sync(self, phone: Carrier) -> None:
        answer = self._browsers[phone.device].post("/sync", json=phone.batch(self._dice.choice((1, 3, 100))))
        if answer.status_code == HTTPStatus.OK and self._dice.random() < 0.7:  # else lost on the way back
            phone.settle(answer.json())

    def _pair(self, phone: Carrier) -> None:
        """By a new code, in the browser as it is: it may have a key already."""
        answer = pair(self._browsers[phone.device], code_of(self._desk), phone.device)
        assert answer.status_code == HTTPStatus.SEE_OTHER, answer.text

    def _lose_key(self, phone: Carrier) -> None:
        """The browser forgets its cookies, and keeps its log."""
        self._browsers[phone.device].cookies.clear()

    def _revoke(self, phone: Carrier) -> None:
        if f'class="unseen"> {phone.device}<' in self._desk.get("/desk/devices").text:
            revoke(self._desk, phone.device)

    def _back_up(self, _: Carrier) -> None:
        back_up(self._data, self._copy)

    def _restore(self, _: Carrier) -> None:
        self._running.close()
        restore(self._copy, self._data)
        self._desk = self._running.enter_context(paired(self._data))
        for device, before in list(self._browsers.items()):
            self._browsers[device] = browser(self._desk)
            self._browsers[device].cookies = before.cookies

    def _see_to(self, phone: Carrier) -> bool:
        """One try of a whole sync; whether all has been said and heard. Else the mend is done."""
        answer = self._browsers[phone.device].post("/sync", json=phone.batch())
        if answer.status_code == HTTPStatus.UNAUTHORIZED:
            self._pair(phone)
        elif answer.status_code == HTTPStatus.CONFLICT:
            assert answer.json()["error"]["field"] == "device", answer.text
            revoke(self._desk, phone.device)  # the oldest of its keys that is still good
        else:
            assert answer.status_code == HTTPStatus.OK, answer.text
            return not phone.settle(answer.json())
        return False


@pytest.mark.parametrize("seed", range(4))
def test_phones_that_are_revoked_lost_and_paired_again_lose_nothing(tmp_path: Path, seed: int) -> None:
    with closing(Town(tmp_path / "data", seed)) as town:
        for _ in range(STEPS):
            town.step()
        town.come_home()
    nothing_lost(town.phones, tmp_path / "data" / FILE_NAME)
