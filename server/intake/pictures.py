"""Opening a picture that somebody sends, within bounds: what is none, cut off or too large is bad input."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable

from PIL import Image

from .bad_input import BadInput, Finding

LARGEST_PICTURE = 20_000_000  # bytes; a phone's full-size JPEG has 3 to 12 million
MOST_PIXELS = 60_000_000  # a small file can unfold into a huge picture: told by its header, before that
_KINDS_OF_PICTURE = ("JPEG", "PNG", "WEBP", "GIF", "BMP")


def open_picture(
    upload: bytes, unfold: Callable[[Image.Image], Image.Image], *, of: str, smaller: str
) -> Image.Image:
    """What ``unfold`` makes of the picture. ``of``: what it should show; ``smaller``: the mend for one that
    is too large. Raises ``BadInput`` (field ``photo``)."""
    if not upload:
        raise bad_picture("an empty file", f"choose a photo of {of}")
    if len(upload) > LARGEST_PICTURE:
        raise bad_picture(f"{len(upload)} bytes", f"a photo has at most {LARGEST_PICTURE}: {smaller}")
    try:
        with warnings.catch_warnings():
            # Pillow warns of large pictures; the limit here is ours and refuses.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(upload), formats=_KINDS_OF_PICTURE) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise bad_picture(
                        f"{picture.width} x {picture.height} pixels",
                        f"a photo has at most {MOST_PIXELS // 1_000_000} million: {smaller}",
                    )
                return unfold(picture)
    except (OSError, ValueError, SyntaxError, EOFError, Image.DecompressionBombError, MemoryError):
        # What Pillow raises for a file that is no picture, or a broken one.
        raise bad_picture("no picture that can be opened", "choose a photo as JPEG or PNG, whole") from None


def bad_picture(value: str, mend: str) -> BadInput:
    """The finding about a picture that was sent."""
    return BadInput(Finding(field="photo", value=value, mend=mend))
