"""After the trip: what was really bought, what is owed back, what lapses when, what it all came to.

Reading order: ``notes.py`` (what the household writes down itself), ``books.py`` (all facts together),
``purchases.py`` (the receipts), then ``differences.py`` with ``refunds.py``; ``claimable.py``, ``claims.py``
and ``open_bonuses.py``; ``held.py``, ``purse.py`` and ``balances.py`` (what is in the wallet); ``facts.py``
for the larder and the price book; ``tables.py`` with ``reports.py`` and ``paper_reports.py``, reckoned in
``spending.py``, ``costs.py`` and ``wasted.py``; ``expiries.py`` with ``calendar.py``; ``receipt_photo.py``.
``publishing/`` makes pages of a trip for others.

Pure: facts and a day come in, an answer goes out; no file, clock or framework. Everything is reckoned
from all facts, so that a correction corrects whatever followed; what follows from facts that did not
change is reckoned once (``once.py``). May import: ``engine/``, and ``intake/bad_input.py`` for the one
typed error.
"""
