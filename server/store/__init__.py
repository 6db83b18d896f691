"""Where trips and events are kept.

``interface.py`` is what the rest of the server may use; ``sqlite.py`` is the one engine behind
it today, with ``door.py`` (its threads), ``event_log.py`` (the events) and ``keyring.py`` (who may
come in); ``migrations.py`` is its schema, step by numbered step; ``projections.py`` reckons what
can be told from the events and can always be reckoned again; ``integrity.py`` finds damage,
``copies.py`` makes backups and puts them back. Nothing here knows HTTP.
May import: ``engine``.
"""
