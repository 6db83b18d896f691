"""The server's promises: routes, store, pages, what a browser is allowed, errors in one shape.

``conftest.py`` has a trip small enough to reckon in the head, a client of a server over an empty
folder, and the events of a phone. Everything runs in the process; no port is opened.
"""
