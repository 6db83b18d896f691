"""The arithmetic, pure: no I/O, no clock, no framework, and no float before a printed cent.

What lives here: the nouns (``offers``, ``papers``), the ladder of small things (``money``,
``measure``, ``rules``), the register step by step, and the planner that stands on it.
What does not: files, pages, the database, dates of today.

Reading order for the register: ``register`` (the whole story), then its steps ``shelf``,
``percents``, ``coupons``, ``basket``, ``tax``, ``tenders``, ``earning``; what is refused
before a cent is counted is in ``legality`` and ``claims``; ``receipts`` says what must
always hold. Each module has its twin of the same name in ``web/engine``.

May import: the standard library, msgspec, the solver; of ours, only this folder.
"""
