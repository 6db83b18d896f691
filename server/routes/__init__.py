"""What the server answers, one area per file.

``assets.py``: the phone's shell and files. ``trips.py``: trips in and trip packages out.
``sync.py``: events both ways. ``desk.py``: the pages at home, from ``plan_page.py`` (the plan as
rows) and ``came_home.py`` (events as sentences). A route reads the request, asks the store or
the engine, and answers; it reckons no cents. May import: ``store``, ``engine``.
"""
