"""One connection in a thread of its own, and the queue of those who want something done with it.

A ``Door`` for writing runs what has queued up while the last commit was on its way to the disk
in one transaction, so that a crowd of phones costs few waits for the disk. Each change is a
savepoint of its own: one that raises is undone alone. Nobody is told that his change is done
before the commit has returned.
"""

from __future__ import annotations

import asyncio
import queue
import sqlite3
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, NamedTuple, TypeVar

T = TypeVar("T")
Work = Callable[[sqlite3.Connection], T]

MOST_TOGETHER = 64  # changes in one transaction; more would keep the first ones waiting


class _Job(NamedTuple):
    work: Work[Any]
    answer: asyncio.Future[Any]


class _Outcome(NamedTuple):
    job: _Job
    result: object
    error: BaseException | None


class Door:
    """Opens with ``connect`` (called in the thread). ``writes``: work runs in transactions."""

    def __init__(self, connect: Callable[[], sqlite3.Connection], *, writes: bool) -> None:
        self._connect = connect
        self._writes = writes
        self._queue: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    async def open(self) -> None:
        """Starts the thread; raises what connecting raises."""
        connected: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._thread = threading.Thread(target=self._work_on, args=(connected,), daemon=True)
        self._thread.start()
        await connected

    async def close(self) -> None:
        """Does what is still queued, then lets go. Closing twice does nothing."""
        thread, self._thread = self._thread, None
        if thread is not None:
            self._queue.put(None)
            await asyncio.to_thread(thread.join)

    async def do(self, work: Work[T]) -> T:
        """The answer of ``work``, or what it raises. It is done even if who asked has gone away."""
        if self._thread is None:
            raise RuntimeError("the store is not open")
        answer: asyncio.Future[T] = asyncio.get_running_loop().create_future()
        self._queue.put(_Job(work, answer))
        return await answer

    # --- in the thread ------------------------------------------------------------------

    def _work_on(self, connected: asyncio.Future[None]) -> None:
        opening = _Job(_nothing, connected)
        try:
            connection = self._connect()
        except BaseException as error:
            _tell([_Outcome(opening, None, error)])
            return
        _tell([_Outcome(opening, None, None)])
        try:
            last = False
            while not last:
                jobs, last = self._queued()
                do = _together if self._writes else _one_by_one
                _tell(do(connection, jobs))
        finally:
            connection.close()

    def _queued(self) -> tuple[list[_Job], bool]:
        """What waits (at least one, unless the door closes), and whether the door closes after it."""
        jobs: list[_Job] = []
        job = self._queue.get()
        while job is not None:
            jobs.append(job)
            if len(jobs) == MOST_TOGETHER or self._queue.empty():
                return jobs, False
            job = self._queue.get()
        return jobs, True


def _together(connection: sqlite3.Connection, jobs: Sequence[_Job]) -> list[_Outcome]:
    """All changes in one transaction, committed. If SQLite gives it up, none of them is done."""
    if not jobs:
        return []
    try:
        connection.execute("BEGIN IMMEDIATE")
        outcomes = [_in_savepoint(connection, job) for job in jobs]
        connection.execute("COMMIT")
    except BaseException as error:
        # A full disk can end the transaction by itself.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        return [_Outcome(job, None, error) for job in jobs]
    return outcomes


def _in_savepoint(connection: sqlite3.Connection, job: _Job) -> _Outcome:
    """One change. Raises only when the whole transaction is gone."""
    connection.execute("SAVEPOINT change")
    try:
        result = job.work(connection)
    except BaseException as error:
        if not connection.in_transaction:
            raise
        connection.execute("ROLLBACK TO change")
        connection.execute("RELEASE change")
        return _Outcome(job, None, error)
    connection.execute("RELEASE change")
    return _Outcome(job, result, None)


def _one_by_one(connection: sqlite3.Connection, jobs: Sequence[_Job]) -> list[_Outcome]:
    return [_alone(connection, job) for job in jobs]


def _alone(connection: sqlite3.Connection, job: _Job) -> _Outcome:
    try:
        return _Outcome(job, job.work(connection), None)
    except BaseException as error:
        return _Outcome(job, None, error)


def _nothing(_: sqlite3.Connection) -> None:
    """The work of a door that opens."""


def _tell(outcomes: Sequence[_Outcome]) -> None:
    """Hands the outcomes to the loops of those who asked: one waking up for each loop."""
    by_loop: dict[asyncio.AbstractEventLoop, list[_Outcome]] = {}
    for outcome in outcomes:
        by_loop.setdefault(outcome.job.answer.get_loop(), []).append(outcome)
    for loop, theirs in by_loop.items():
        # A loop that has ended has nobody left to tell.
        with suppress(RuntimeError):
            loop.call_soon_threadsafe(_answer, theirs)


def _answer(outcomes: Sequence[_Outcome]) -> None:
    for job, result, error in outcomes:
        if job.answer.done():
            continue  # who asked has gone away
        if error is None:
            job.answer.set_result(result)
        else:
            job.answer.set_exception(error)
