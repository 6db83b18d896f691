"""What may go wrong between phone and server, done on the real parts: every event arrives exactly once.

``carrier.py`` is a phone by the letter of DEVELOPERS.md, "Sync"; ``victim.py`` a server that can be
killed; ``test_scripts_and_other_sites.py`` is what a browser could be made to do. The tests here
run short counts; ``tests/bench`` runs the long ones and prints the figures.
"""
