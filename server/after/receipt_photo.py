"""A photo of a printed receipt, made fit to keep: upright, not too large, and nothing in it but the picture.

A phone writes the place, the time and itself into a photo. What is kept is drawn anew from the pixels,
as a JPEG without any of that. Bytes in, bytes out; nothing is written here.
"""

from __future__ import annotations

import io
import warnings

import msgspec
from PIL import Image, ImageOps

from ..intake.bad_input import BadInput, Finding

LARGEST_UPLOAD = 20_000_000  # bytes; a phone's full-size JPEG has 3 to 12 million
MOST_PIXELS = 60_000_000  # a small file can unfold into a huge picture: told by its header, before that
LONGEST_EDGE = 2_400  # pixels of what is kept: a receipt of 80 columns stays legible
LARGEST_KEPT = 1_500_000  # bytes
_QUALITIES = (85, 75, 60, 45)
_SMALLER = 0.7  # of each edge, where even the lowest quality is too large
_KINDS_OF_PICTURE = ("JPEG", "PNG", "WEBP", "GIF", "BMP")


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
    if not upload:
        raise _bad("an empty file", "choose a photo of the receipt")
    if len(upload) > LARGEST_UPLOAD:
        raise _bad(f"{len(upload)} bytes", f"a photo has at most {LARGEST_UPLOAD}: take a smaller one")
    try:
        with warnings.catch_warnings():
            # Pillow warns of large pictures; the limit here is ours and refuses.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(upload), formats=_KINDS_OF_PICTURE) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise _bad(
                        f"{picture.width} x {picture.height} pixels",
                        f"a photo has at most {MOST_PIXELS // 1_000_000} million: take a smaller one",
                    )
                # A JPEG unfolds at a fraction of its size where that is enough.
                picture.draft("RGB", (LONGEST_EDGE, LONGEST_EDGE))
                turned = ImageOps.exif_transpose(picture).convert("RGBA")
    except (OSError, ValueError, SyntaxError, EOFError, Image.DecompressionBombError, MemoryError):
        # What Pillow raises for a file that is no picture, or a broken one.
        raise _bad("no picture that can be opened", "choose a photo as JPEG or PNG, whole") from None
    paper = Image.new("RGB", turned.size, "white")
    paper.paste(turned, mask=turned.getchannel("A"))
    return paper


def _drawn(picture: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    # A new picture knows nothing but its pixels: no EXIF, no colour profile, no comment is written.
    picture.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def _bad(value: str, mend: str) -> BadInput:
    return BadInput(Finding(field="photo", value=value, mend=mend))
