"""Counterfoil: plan a trip at home, carry it through the store with the radio off, settle after.

``engine/`` is the arithmetic, pure. ``store/`` keeps trips and events in SQLite. ``routes/``
answers phones and pages; ``web.py`` puts the application together and does nothing else.
Imports point one way: ``web`` -> ``routes`` -> ``store`` -> ``engine``. Start with
``engine/offers.py`` (the nouns), then ``web.py``.
"""
