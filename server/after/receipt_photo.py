"""A photo of a printed receipt, made fit to keep: upright, not too large, and nothing in it but the picture.

A phone writes the place, the time and itself into a photo. What is kept is drawn anew from the pixels,
as a JPEG without any of that. Bytes in, bytes out; nothing is written here.
"""

from __future__ import annotations

import io

import msgspec
from PIL import Image, ImageOps

from ..intake.pictures import open_picture

LONGEST_EDGE = 2_400  # pixels of what is kept: a receipt of 80 columns stays legible
LARGEST_KEPT = 1_500_000  # bytes
_QUALITIES = (85, 75, 60, 45)
_SMALLER = 0.7  # of each edge, where even the lowest quality is too large


class ReceiptPhoto(msgspec.Struct, frozen=True, kw_only=True):
    """What is kept: a JPEG of at most ``LARGEST_KEPT`` bytes, its size in pixels."""

    jpeg: bytes
    width: int
    height: int


def receipt_photo(upload: bytes) -> ReceiptPhoto:
    """The photo to keep. ``BadInput`` (field ``photo``) where there is no picture, or too large a one."""
    picture = _upright(upload)
    picture.thumbnail((LONGEST_EDGE, LONGEST_EDGE))
    while True:
        for quality in _QUALITIES:
            jpeg = _drawn(picture, quality)
            if len(jpeg) <= LARGEST_KEPT:
                return ReceiptPhoto(jpeg=jpeg, width=picture.width, height=picture.height)
        smaller = (max(int(picture.width * _SMALLER), 1), max(int(picture.height * _SMALLER), 1))
        picture = picture.resize(smaller)


def _upright(upload: bytes) -> Image.Image:
    """The pixels as they should be seen, on white where the picture is see-through."""
    turned = open_picture(upload, _turned, of="the receipt", smaller="take a smaller one")
    paper = Image.new("RGB", turned.size, "white")
    paper.paste(turned, mask=turned.getchannel("A"))
    return paper


def _turned(picture: Image.Image) -> Image.Image:
    # A JPEG unfolds at a fraction of its size where that is enough.
    picture.draft("RGB", (LONGEST_EDGE, LONGEST_EDGE))
    return ImageOps.exif_transpose(picture).convert("RGBA")


def _drawn(picture: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    # A new picture knows nothing but its pixels: no EXIF, no colour profile, no comment is written.
    picture.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()
