"""Promise kept here: a kept photo is upright, small, and says nothing but what is printed on the receipt."""

from __future__ import annotations

import io
import random

import pytest
from PIL import Image

from counterfoil.after.receipt_photo import (
    LARGEST_KEPT,
    LONGEST_EDGE,
    receipt_photo,
)
from counterfoil.intake.bad_input import BadInput
from counterfoil.intake.pictures import LARGEST_PICTURE, MOST_PIXELS

ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825


def picture(width: int = 40, height: int = 20, mode: str = "RGB") -> Image.Image:
    """White, with its top left corner black."""
    drawn = Image.new("RGB", (width, height), "white")
    drawn.paste("black", (0, 0, width // 4, height // 2))
    return drawn.convert(mode)


def saved(drawn: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    drawn.save(out, kind, **options)
    return out.getvalue()


def opened(jpeg: bytes) -> Image.Image:
    return Image.open(io.BytesIO(jpeg))


def test_what_is_kept_knows_nothing_of_the_phone() -> None:
    exif = Image.Exif()
    exif[MAKE] = "A phone of some make"
    exif[GPS] = {1: "N", 2: (46.0, 30.0, 0.0)}
    upload = saved(picture(), "JPEG", exif=exif, comment=b"at home")
    assert b"A phone of some make" in upload

    kept = receipt_photo(upload).jpeg
    assert opened(kept).getexif() == {}
    assert set(opened(kept).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert b"phone" not in kept
    assert b"at home" not in kept
    assert b"Exif" not in kept


@pytest.mark.parametrize("turned", range(1, 9))
def test_it_is_upright_whichever_way_the_phone_was_held(turned: int) -> None:
    """EXIF orientations 1 to 8: the picture as seen has its black corner where the viewer would show it."""
    exif = Image.Exif()
    exif[ORIENTATION] = turned
    kept = receipt_photo(saved(picture(), "PNG", exif=exif))

    assert (kept.width, kept.height) == ((40, 20) if turned <= 4 else (20, 40))
    corners = {
        "top left": (2, 2),
        "top right": (kept.width - 3, 2),
        "bottom right": (kept.width - 3, kept.height - 3),
        "bottom left": (2, kept.height - 3),
    }
    seen = opened(kept.jpeg).convert("L")
    dark = [name for name, spot in corners.items() if seen.getpixel(spot) < 100]  # pyright: ignore[reportOperatorIssue]  # grey is one number
    where = ("top left", "top right", "bottom right", "bottom left")
    expected = {1: 0, 2: 1, 3: 2, 4: 3, 5: 0, 6: 1, 7: 2, 8: 3}[turned]
    assert dark == [where[expected]]


@pytest.mark.parametrize("mode", ["L", "P", "RGBA", "LA", "1"])
def test_every_way_of_colouring_becomes_a_picture(mode: str) -> None:
    assert opened(receipt_photo(saved(picture(mode=mode), "PNG")).jpeg).mode == "RGB"


def test_what_is_see_through_becomes_paper() -> None:
    clear = Image.new("RGBA", (10, 10), (0, 0, 0, 0))

    assert opened(receipt_photo(saved(clear, "PNG")).jpeg).getpixel((5, 5)) == (255, 255, 255)


def test_a_large_picture_is_made_small_enough_to_keep() -> None:
    """Noise is what a JPEG can least make small."""
    noise = Image.frombytes("RGB", (3_000, 2_600), random.Random(49).randbytes(3_000 * 2_600 * 3))
    kept = receipt_photo(saved(noise, "JPEG", quality=60))

    assert len(kept.jpeg) <= LARGEST_KEPT
    assert max(kept.width, kept.height) <= LONGEST_EDGE
    assert opened(kept.jpeg).size == (kept.width, kept.height)


def refused(upload: bytes) -> tuple[str, str]:
    with pytest.raises(BadInput) as caught:
        receipt_photo(upload)
    (finding,) = caught.value.findings
    assert finding.field == "photo"
    return finding.value, finding.mend


def test_what_is_no_picture_is_told() -> None:
    assert refused(b"")[0] == "an empty file"
    for upload in (b"%PDF-1.7 not a picture", saved(picture(400, 300), "PNG")[:200], b"<svg></svg>"):
        assert refused(upload) == (
            "no picture that can be opened",
            "choose a photo as JPEG or PNG, whole",
        )


def test_too_large_a_file_is_told_before_it_is_opened() -> None:
    assert str(LARGEST_PICTURE) in refused(b"\xff" * (LARGEST_PICTURE + 1))[1]


def test_a_small_file_that_unfolds_into_a_huge_picture_is_told() -> None:
    width = 10_000
    bomb = saved(Image.new("1", (width, MOST_PIXELS // width + 1)), "PNG")
    assert len(bomb) < 100_000

    value, mend = refused(bomb)
    assert value == "10000 x 6001 pixels"
    assert "60 million" in mend
