"""The phone page in a real Chromium: what a shopper sees and does, online and with the radio off.

``saturday.py`` is the trip that these tests carry, worked by hand; ``shopper.py`` holds the phone.
"""
