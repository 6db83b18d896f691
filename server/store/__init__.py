"""Where trips and events are kept.

``interface.py`` is what the rest of the server may use; ``sqlite.py`` is the one engine behind
it today; ``migrations.py`` is its schema, step by numbered step; ``projections.py`` reckons what
can be told from the events and can always be reckoned again. Nothing here knows HTTP.
May import: ``engine``.
"""
