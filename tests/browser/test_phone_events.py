"""The phone's event list: nothing that was noted is lost, doubled or put out of order.

The modules run in a page of their own, without the shell: what is promised here holds for any screen.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.served import ROOT

IMPORT_MAP = (ROOT / "web" / "vendor" / "importmap.json").read_text()

OPEN = """
    const {openPhoneStore} = await import('/web/phone/phone-store.js');
    const {fold, standingEvents} = await import('/web/phone/fold.js');
    const silent = {blocked() {}, blocking() {}, terminated() {}};
    const store = await openPhoneStore(silent);
"""


@pytest.fixture
def page(chromium: Browser, static_site: str) -> Iterator[Page]:
    """A blank page with the import map, and an empty IndexedDB."""
    context = chromium.new_context()
    page = context.new_page()
    page.route(
        "**/store.html",
        lambda route: route.fulfill(
            content_type="text/html",
            body=f'<!doctype html><title>store</title><script type="importmap">{IMPORT_MAP}</script>',
        ),
    )
    page.goto(static_site + "/store.html")
    yield page
    context.close()


def run(page: Page, script: str, argument: Any = None) -> Any:
    return page.evaluate(f"async (given) => {{ {OPEN} {script} }}", argument)


def in_trolley(units: int, product: str = "soap") -> dict[str, Any]:
    return {"kind": "in_trolley", "store": "alder", "product": product, "units": units}


def test_a_tap_is_in_the_list_and_in_the_outbox_or_in_neither(page: Page) -> None:
    events = run(page, "return await store.append('saturday', given);", [in_trolley(1), in_trolley(2)])
    assert [event["what"]["units"] for event in events] == [1, 2]
    assert [event["counter"] for event in events] == [0, 1]
    assert run(page, "return await store.unsent();") == events
    # One report of the batch cannot be written: none of it is, and the counter stays.
    failed = run(
        page,
        """try { await store.append('saturday', [given, {kind: () => 1}]); }
           catch (error) { return error.name; }""",
        in_trolley(3),
    )
    assert failed == "DataCloneError"
    assert run(page, "return await store.unsent();") == events
    (after,) = run(page, "return await store.append('saturday', [given]);", in_trolley(4))
    assert after["counter"] == 2


def test_a_page_that_dies_between_any_two_writes_leaves_whole_taps(page: Page) -> None:
    # The page goes away while taps are being written: what is there afterwards is whole batches, in
    # order, each also in the outbox.
    for _ in range(10):
        page.evaluate(
            f"""async () => {{ {OPEN}
                for (let k = 0; k < 20; k += 1) void store.append('saturday', [1, 2, 3].map((units) =>
                    ({{kind: 'in_trolley', store: 'alder', product: 'soap', units}})));
            }}"""
        )
        page.reload()
    events = run(page, "return await store.events('saturday');")
    unsent = run(page, "return await store.unsent();")
    assert [event["what"]["units"] for event in events] == [1, 2, 3] * (len(events) // 3)
    assert [event["counter"] for event in events] == list(range(len(events)))
    assert unsent == events


def test_an_event_leaves_the_outbox_only_when_the_server_has_it(page: Page) -> None:
    one, two = run(page, "return await store.append('saturday', given);", [in_trolley(1), in_trolley(2)])
    fresh = run(page, "return await store.settle('saturday', [given], [], 7);", one["id"])
    assert fresh == 0
    assert run(page, "return await store.unsent();") == [two]
    assert [event["id"] for event in run(page, "return await store.events('saturday');")] == [
        one["id"],
        two["id"],
    ]
    assert run(page, "return (await store.greeting('saturday')).cursor;") == 7


def test_another_phones_event_comes_in_once_however_often_it_is_sent(page: Page) -> None:
    other = {
        "id": "01940000-0000-7000-8000-000000000000",
        "device": "phone-of-the-other",
        "counter": 0,
        "at": "2026-12-05T10:00:00.000Z",
        "trip": "saturday",
        "what": in_trolley(1),
    }
    counts = run(
        page,
        """const fresh = [];
           for (let k = 0; k < 2; k += 1) fresh.push(await store.settle('saturday', [], [given], 1));
           return [...fresh, (await store.events('saturday')).length, (await store.unsent()).length];""",
        other,
    )
    assert counts == [1, 0, 1, 0]


def test_an_id_is_later_than_every_id_seen_even_when_the_clock_goes_back(page: Page) -> None:
    ahead = {
        "id": "7fffffff-ffff-7000-8000-000000000000",
        "device": "phone-with-a-wrong-clock",
        "counter": 0,
        "at": "2109-01-01T00:00:00.000Z",
        "trip": "saturday",
        "what": in_trolley(1),
    }
    run(page, "await store.settle('saturday', [], [given], 1);", ahead)
    mine = run(page, "return await store.append('saturday', given);", [in_trolley(2), in_trolley(3)])
    assert ahead["id"] < mine[0]["id"] < mine[1]["id"]
    assert [event["what"]["units"] for event in run(page, "return await store.events('saturday');")] == [
        1,
        2,
        3,
    ]


def test_ids_are_uuid_version_7_and_grow_within_a_millisecond(page: Page) -> None:
    ids = page.evaluate(
        """async () => {
            const {nextId} = await import('/web/phone/identifiers.js');
            const ids = [];
            const random = new Uint8Array(8);
            for (let k = 0; k < 5000; k += 1) ids.push(nextId(ids.at(-1) ?? '', 1764930000000, random));
            return ids;
        }"""
    )
    # RFC 9562: version 7, variant 10; 4,096 in one millisecond, then the next one.
    assert ids[0] == "019aee06-9480-7000-8000-000000000000"
    assert ids == sorted(set(ids))
    assert all(name[14] == "7" and name[19] in "89ab" for name in ids)


def test_undo_takes_back_what_it_names_and_the_trolley_is_never_below_empty(page: Page) -> None:
    def event(number: int, what: dict[str, Any]) -> dict[str, Any]:
        return {
            "id": f"event-{number}",
            "device": "d",
            "counter": number,
            "at": "",
            "trip": "t",
            "what": what,
        }

    events = [
        event(1, in_trolley(2)),
        event(2, {"kind": "shelf_empty", "store": "alder", "product": "soap"}),
        event(3, {"kind": "undone", "event": "event-2"}),
        event(4, in_trolley(-3)),
        event(5, in_trolley(1)),
    ]
    folded = run(
        page,
        """const at = fold(given);
           return [[...at.trolley], [...at.empty], standingEvents(given).map(({id}) => id)];""",
        events,
    )
    assert folded == [[["alder soap", 1]], [], ["event-1", "event-4", "event-5"]]


def test_a_failed_sync_keeps_everything_and_the_next_one_sends_it(page: Page) -> None:
    asked: list[dict[str, Any]] = []

    def server(route: Any) -> None:
        asked.append(json.loads(route.request.post_data))
        if len(asked) == 1:
            route.abort("connectionreset")
        elif len(asked) == 2:
            route.fulfill(status=503, json={"error": {"mend": "Later."}})
        else:
            ids = [event["id"] for event in asked[-1]["events"]]
            route.fulfill(
                json={
                    "protocol": 1,
                    "acknowledged": ids,
                    "refused": [],
                    "events": [],
                    "cursor": 3,
                    "more": False,
                }
            )

    page.route("**/sync", server)
    states = run(
        page,
        """const {Sync} = await import('/web/phone/sync.js');
           await store.append('saturday', given);
           const sync = new Sync(store, () => ({id: 'saturday', version: 1}));
           const states = [];
           for (let k = 0; k < 3; k += 1) {
               await sync.now();
               clearTimeout(sync.timer);
               states.push([sync.state, sync.unsent]);
           }
           return states;""",
        [in_trolley(1), in_trolley(2)],
    )
    assert states == [["waiting", 2], ["refused", 2], ["resting", 0]]
    assert [batch["events"] for batch in asked] == [asked[0]["events"]] * 3
