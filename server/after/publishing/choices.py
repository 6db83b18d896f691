"""What the planner decides about a page for readers: whose it is, where it will lie, what it tells.

Everything that could say something of her household is off until she turns it on. What has no field here
is never told: slips, gift cards, rain checks and cash, copies in hand, what rewards are worth to her,
cash ceilings, her region, codes and serials of coupons, her names for wants, and whatever was reported.
"""

from __future__ import annotations

from urllib.parse import urlsplit

import msgspec

from ...engine.offers import Id
from ...intake.bad_input import BadInput, Finding, shorten

LONGEST_LINE = 200  # characters of a title or a name
LONGEST_INTRODUCTION = 5_000
_LONGEST_ADDRESS = 500


class PublishChoices(msgspec.Struct, frozen=True, kw_only=True):
    """What the planner says on the form.

    ``address``: where the site's folder will lie (``https://list.example/deals/``); feeds need it.
    ``author``: the name that the feed and the pages carry. ``title``: of this trip's page ("": made of its
    day and stores). ``site_title``: of the whole site ("": as published before, or made of ``author``).
    ``introduction``: paragraphs, parted by empty lines.

    ``wants``: ids of the wants that are told (None: those that her plan buys). ``counts``: her own needs,
    and how many she bought; else readers get the numbers that the deals ask for. ``stock_up``: her
    stock-up prices. ``notes``: notes on stores, goods and shelves. ``where``: where a coupon came from.
    ``register_coupons``: coupons that a register printed, which were meant for her.
    """

    address: str
    author: str
    title: str = ""
    site_title: str = ""
    introduction: str = ""
    wants: tuple[Id, ...] | None = None
    counts: bool = False
    stock_up: bool = True
    notes: bool = False
    where: bool = False
    register_coupons: bool = False


def checked(choices: PublishChoices) -> PublishChoices:
    """The choices with a tidy address and trimmed texts. Raises ``BadInput`` with every finding."""
    findings: list[Finding] = []
    address = _address(choices.address.strip(), findings)
    author = _line("author", choices.author, findings)
    if not author and not any(finding.field == "author" for finding in findings):
        mend = "Write the name under which you publish; a feed must name its author."
        findings.append(Finding(field="author", value="nothing", mend=mend))
    title = _line("title", choices.title, findings)
    site_title = _line("site_title", choices.site_title, findings)
    introduction = choices.introduction.replace("\r\n", "\n").strip()
    if len(introduction) > LONGEST_INTRODUCTION:
        mend = f"Write at most {LONGEST_INTRODUCTION} characters; there are {len(introduction)}."
        findings.append(Finding(field="introduction", value=shorten(introduction), mend=mend))
    introduction = "".join(letter for letter in introduction if letter == "\n" or letter.isprintable())
    if findings:
        raise BadInput(*findings)
    return msgspec.structs.replace(
        choices,
        address=address,
        author=author,
        title=title,
        site_title=site_title,
        introduction=introduction,
    )


def _line(field: str, text: str, findings: list[Finding]) -> str:
    """One line of text. Letters that XML cannot hold, and other unprintable ones, are refused."""
    line = text.strip()
    if len(line) > LONGEST_LINE:
        mend = f"Write at most {LONGEST_LINE} characters; there are {len(line)}."
        findings.append(Finding(field=field, value=shorten(line), mend=mend))
    elif not line.isprintable():
        mend = "Write it in one line, without control characters."
        findings.append(Finding(field=field, value=shorten(line), mend=mend))
    return line


def _address(text: str, findings: list[Finding]) -> str:
    """The address of the site's folder, with a slash at its end."""
    mend = ""
    try:
        parts = urlsplit(text)
        host, _ = parts.hostname, parts.port
    except ValueError:
        parts, host = urlsplit(""), None
    if not text:
        mend = "Write the address at which the folder will lie, such as https://list.example/deals/."
    elif len(text) > _LONGEST_ADDRESS or not text.isascii() or not text.isprintable() or " " in text:
        mend = f"Write it in at most {_LONGEST_ADDRESS} plain letters, without spaces."
    elif parts.scheme not in ("http", "https") or not host:
        mend = "Write a whole address that begins with https://."
    elif parts.username is not None or parts.password is not None:
        mend = "Leave name and password out of it: everyone can read it."
    elif parts.query or parts.fragment or "?" in text or "#" in text:
        mend = "Write it without what follows ? or #."
    if mend:
        findings.append(Finding(field="address", value=shorten(text) or "nothing", mend=mend))
    path = parts.path.removesuffix("index.html")
    return f"{parts.scheme}://{parts.netloc}{path.rstrip('/')}/"
