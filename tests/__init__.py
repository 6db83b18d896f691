"""The promises, kept in code.

``vectors/`` (documents that both engines must price and plan alike), ``engine/`` (the
arithmetic), ``server/`` (routes and store), ``browser/`` (the phone page in a real Chromium);
beside them the commands and the packaging. ``conftest.py`` has the fixtures, ``served.py`` the
servers under test. Run all with ``sh tests/run.sh``; arguments go to pytest.
"""
