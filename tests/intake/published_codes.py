"""Coupon codes that others published, and what each source says of them. Data after the identifier 8110.

L: the ``couponcode`` linter of the GS1 Syntax Dictionary and its unit tests, which cite the coupon guideline
R2.0. D: an open-source GS1 decoder, which cites the guideline's Appendix C, examples 1 to 6. S: a barcode
supplier's published encodation examples. W: the wiki of Barcode Writer in Pure PostScript.
OWN: made here from the tables; valid syntax, published nowhere.
"""

from __future__ import annotations

C1 = "1061414165432131501101201211014092110256100126663101231"  # L, D
C2 = "106141410012342501106501013085093101231"  # L, D
C3 = "106141410012471011076011110850921108609310123191000"  # L, D
C4 = "106141411234562891101201212085010048000214025610048000310123191000"  # L, D
C5 = "1061414154321031501101201211014092110256100126663101231"  # L, D
C6 = "106141416543213500110000310123196000"  # L, D, W
T1 = "10614141011111275110111"  # L
T2 = "106141410222223100110222111101231023456721104561045678991201"  # L
S1 = "1061414165432132501101203140131"  # S, example 1
S2 = "106141411234562751106501013085093140131"  # S, example 2

PERCENT = "1061414165432122011012095000"  # OWN
ONE_OF_TWO_FREE = "106141416543211012012091000"  # OWN
MONEY_ASKED = "106141416543213300415001120"  # OWN
STORE_COUPON = "1061414165432127511012090010"  # OWN

PUBLISHED = {
    "C1": C1,
    "C2": C2,
    "C3": C3,
    "C4": C4,
    "C5": C5,
    "C6": C6,
    "T1": T1,
    "T2": T2,
    "S1": S1,
    "S2": S2,
}
OWN = {
    "percent": PERCENT,
    "one of two free": ONE_OF_TWO_FREE,
    "money asked": MONEY_ASKED,
    "store": STORE_COUPON,
}

# L: prefix 123456 (VLI 0), offer 123456, a save value and a requirement of one digit, family 123.
BASE = "012345612345611110123"
GOOD_SUFFIXES = (
    "",
    "101101239",
    "101101230123456",
    "101101236123456789012",
    "4200630",
    "35006064500606",
    "50123456",
    "59123456789012345",
    "611234567",
    "671234567890123",
    "90000",
    "90001",
)
BAD_SUFFIXES = {
    **dict.fromkeys(("0", "7", "8"), "after the last field"),
    "101101237123456": "length of company prefix of the second purchase",
    "101101238123456": "length of company prefix of the second purchase",
    **{f"1{digit}": "additional purchase rules" for digit in range(4, 10)},
    **{f"1011{digit}": "requirement code of the second purchase" for digit in range(5, 9)},
    "4200631": "start date",
    "4200600": "start date",
    "4210229": "start date",
    "35006064500607": "start date",
    "51123456": "serial number",
    "60": "length of retailer",
    "68123456789012345": "length of retailer",
    "69123456789012345": "length of retailer",
    "90002": "don't-multiply flag",
    **{f"9{digit}000": "save value code" for digit in (3, 4, 7, 8, 9)},
    "903": "item it applies to",
    "900000": "after the last field",
    "20110123": "third purchase",
}
# Own reasoning, not the linter's: a third purchase without a second has no rule that joins it.
