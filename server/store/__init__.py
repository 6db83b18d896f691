"""Where trips and events are kept, and all that the household keeps beside them.

``interface.py`` is what the rest of the server may use; ``sqlite.py`` is the one engine behind
it today, with ``door.py`` (its threads), ``event_log.py`` (the events), ``senders.py`` (whose names they
carry) and ``keyring.py`` (who may come in); ``schema.py`` lists its steps, ``migrations.py`` takes them;
``projections.py`` reckons what can be told from the events and can always be reckoned again;
``integrity.py`` finds damage, ``copies.py`` makes backups and puts them back. Records, facts, notes, photos,
plans and published pages have a file each, protocol first. Nothing here knows HTTP.
May import: ``engine``.
"""
