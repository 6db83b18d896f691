"""The trade's shorthand, read into drafts: paste a line as people write it, confirm what was understood.

    read_shorthand("$1/2 any flavour exp 12/31 limit 4", "2026-12-05").drafts[0]
        offer      a coupon, $1.00 off, asks for 2, until 2026-12-31, 4 in a transaction
        words      ("any flavour",)
        questions  limit 4 does not say of what

Nothing is lost (each word is read, or stands in ``words`` or in ``unread``) and nothing is guessed silently
(a reading that could be another asks). M is money ($1.50, $1, 75c, 75¢, 75 cents, .75), N a whole number to
100 or a word to twelve, P a percent, D a date. Upper and lower case are the same, and so is punctuation.

=====================================================  ==========================================
written                                                read as
=====================================================  ==========================================
M/N; M off N; M off; save M on N; buy N save M         coupon: M off, asks for N (1 if not written)
M/M; M off M; spend M save M; M off your order         coupon: M off the transaction from a spend on
N/M; N for M; buy N for M                              sale: N for M (1/M is a price)
M each; sale M; M                                      price of one; an amount alone asks
M each wyb N                                           sale: N for N times M, must buy
B1G1; BOGO; BOGO P; buy one get one half off           sale in pairs, the second free or P off
B2G1; buy N get 1 free                                 coupon: asks for N + 1, the cheapest is free
P off; half price; P off N; P off your order           percent offer
free (up to M); free wyb N                             coupon: one free; asks for N + 1
buy N get M gift card / back / reward / points         reward by units
spend M get M back; M gift card wyb N; M off your      reward
next order wyb N
exp D; thru D; ends D; D-D; from D                     dates
limit N; limit N per transaction / day / household     limits
DND; do not double; doubles                            may be multiplied or not
digital; printable; insert D; peelie; tear pad         form, and where it was found
coupon; store coupon; manufacturer coupon              makes a coupon of a price, a pair, a percent
must buy N; mix and match; reg M; clearance; rolls     terms of a sale, of a reward
=====================================================  ==========================================

Money before the slash is a coupon ($1/2: $1.00 off two), money after it a sale (2/$5: two for $5.00);
$5/25 is $5.00 off $25.00, and asks. The amounts are in a currency with cents. Common practice, no source.

Reading order: ``reading.py`` (lines, which words belong to which offer), ``tokens.py``, ``offers.py`` with
the patterns (``off.py``, ``free.py``, ``prices.py``, ``rewards.py``), ``terms.py`` and ``dates.py`` (what is
said beside an offer), ``applying.py`` (which kind of offer can have which term). Nothing here reads a
clock; time grows with the length of the text.
"""

from .reading import LONGEST_PASTE, read_shorthand

__all__ = ["LONGEST_PASTE", "read_shorthand"]
