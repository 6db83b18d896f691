"""A network that cuts, doubles, delays and turns round what it carries: every event arrives exactly once.

The whole server answers, with its real database; the network between is played, by dice with a seed.
"""

from __future__ import annotations

import asyncio
import random
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from counterfoil.store.sqlite import FILE_NAME
from counterfoil.web import create_app
from tests.faults.carrier import Carrier, Event, nothing_lost
from tests.server.conftest import HERE, as_json, key_for, small_trip

Story = Callable[["Network"], Awaitable[None]]


class Network:
    """Carries syncs to the server over a path that does to them what the dice say."""

    def __init__(self, client: httpx.AsyncClient, seed: int) -> None:
        self._client = client
        self._dice = random.Random(seed)
        self._old_batches: list[Event] = []

    async def sync(self, phone: Carrier) -> None:
        """One try. The answer may be lost, come twice, or come after an older batch was sent again."""
        batch = phone.batch(at_most=self._dice.choice((1, 3, 100)))
        self._dice.shuffle(batch["events"])
        self._old_batches.append(batch)
        fate = self._dice.random()
        if fate < 0.2:
            return  # lost on the way there
        answer = await self.whole(batch)
        if self._dice.random() < 0.3:
            await self.whole(self._dice.choice(self._old_batches))  # an old packet turns up at last
        if fate < 0.5:
            return  # committed, and lost on the way back
        phone.settle(answer)
        if fate < 0.6:
            phone.settle(answer)

    async def whole(self, batch: Event) -> Event:
        """A batch and its answer, untouched."""
        answer = await self._client.post("/sync", json=batch)
        assert answer.status_code == 200, answer.text
        return answer.json()


def play(data: Path, seed: int, story: Story) -> None:
    """Runs ``story`` over a network of ``seed`` to a server over ``data`` that has the small trip."""
    app: Any = create_app(data)
    shown = {"Authorization": f"Bearer {key_for(data)}"}

    async def run() -> None:
        async with (
            app.lifespan(),
            httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=HERE, headers=shown) as client,
        ):
            await client.post("/api/trips", json=as_json(small_trip()))
            await story(Network(client, seed))

    asyncio.run(run())


async def come_home(network: Network, phones: list[Carrier]) -> None:
    """The network is whole again; two rounds, so that each hears what the others sent in the first."""
    for _ in range(2):
        for phone in phones:
            while phone.settle(await network.whole(phone.batch())):
                pass


@pytest.mark.parametrize("seed", range(6))
def test_two_phones_over_a_bad_network_end_with_the_same_events(tmp_path: Path, seed: int) -> None:
    phones = [Carrier("phone-a"), Carrier("phone-b")]

    async def story(network: Network) -> None:
        for _ in range(12):
            for phone in phones:
                phone.note()
                phone.note()
            await asyncio.gather(*(network.sync(phone) for phone in phones))
        await come_home(network, phones)

    play(tmp_path, seed, story)
    nothing_lost(phones, tmp_path / FILE_NAME)


def test_the_same_batch_sent_ten_times_at_once_is_stored_once(tmp_path: Path) -> None:
    phone = Carrier("phone-a")

    async def story(network: Network) -> None:
        for _ in range(20):
            phone.note()
        answers = await asyncio.gather(*(network.whole(phone.batch()) for _ in range(10)))
        assert all(len(answer["acknowledged"]) == 20 for answer in answers)
        phone.settle(answers[0])

    play(tmp_path, 0, story)
    nothing_lost([phone], tmp_path / FILE_NAME)


def test_answers_that_come_in_the_wrong_order_lose_nothing(tmp_path: Path) -> None:
    anna, ben = Carrier("phone-a"), Carrier("phone-b")

    async def story(network: Network) -> None:
        ben.note()
        ben.settle(await network.whole(ben.batch()))
        early = await network.whole(anna.batch())
        ben.note()
        ben.settle(await network.whole(ben.batch()))
        late = await network.whole(anna.batch())
        anna.settle(late)
        anna.settle(early)
        await come_home(network, [anna, ben])

    play(tmp_path, 0, story)
    nothing_lost([anna, ben], tmp_path / FILE_NAME)
