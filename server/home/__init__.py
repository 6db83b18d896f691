"""The week at home: what the household knows, and how a trip is made of it.

``household.py`` has the records that no trip has by itself; ``kinds.py`` lists every kind of record and
what a list must know of it; ``checking.py`` says what is wrong with a record among the others. From
there, one file for each thing that is done at the Desk. Pure, as the engine is: no file, clock or
framework; days are arguments. May import: ``engine/``, ``intake/``.
"""
