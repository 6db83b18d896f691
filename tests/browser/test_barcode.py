"""A barcode is read by the camera where she allows it, and typed where she does not.

The camera shows a drawn EAN-13; its number is for use within a store.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from counterfoil.engine.offers import Trip
from tests.browser.saturday import OAT_SOAP, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running

GTIN = "2000000000015"
ODD = (
    *("0001101", "0011001", "0010011", "0111101", "0100011"),
    *("0110001", "0101111", "0111011", "0110111", "0001011"),
)
# Which of the left digits are mirrored says the first digit (GS1 General Specifications): for 2, LLGGLG.
MIRRORED = (False, False, True, True, False, True)

CAMERA = """(bars) => {
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [640, 320];
    const pen = canvas.getContext('2d');
    const draw = () => {
        pen.fillStyle = '#fff';
        pen.fillRect(0, 0, 640, 320);
        pen.fillStyle = '#000';
        [...bars].forEach((bar, k) => { if (bar === '1') pen.fillRect(80 + 5 * k, 40, 5, 240); });
        requestAnimationFrame(draw);
    };
    window.asked = 0;
    navigator.mediaDevices.getUserMedia = async () => {
        window.asked += 1;
        draw();
        return window.stream = canvas.captureStream(10);
    };
}"""


def bars(gtin: str) -> str:
    """The 95 modules of an EAN-13 that begins with 2: 1 is a bar."""
    right = [right_of(digit) for digit in gtin[7:]]
    left = [
        right_of(digit)[::-1] if mirrored else ODD[int(digit)]
        for digit, mirrored in zip(gtin[1:7], MIRRORED, strict=True)
    ]
    return "101" + "".join(left) + "01010" + "".join(right) + "101"


def right_of(digit: str) -> str:
    return "".join("10"[int(bit)] for bit in ODD[int(digit)])


def trip() -> Trip:
    plain = saturday()
    products = (
        msgspec.structs.replace(each, gtin=f"0{GTIN}") if each.id == "oat-soap" else each
        for each in plain.products
    )
    return msgspec.structs.replace(plain, products=tuple(products))


@pytest.fixture
def shopper(phone: BrowserContext, running: Callable[..., Running]) -> Shopper:
    server = running()
    bring_in(server.url, trip())
    return Shopper(phone, server.url).open()


def by_barcode(shopper: Shopper) -> Locator:
    sheet = shopper.more(SOAP, "Another kind or size is here")
    sheet.get_by_role("button", name="Another one: by its barcode").tap()
    return sheet


def test_the_camera_reads_the_barcode_with_the_radio_off(shopper: Shopper) -> None:
    shopper.keep_page()
    # What reads barcodes is kept on the phone too, as this browser cannot do it alone.
    shopper.page.wait_for_function(
        """async () => Boolean(await caches.match('/web/vendor/zxing-wasm/reader/zxing_reader.wasm'))"""
    )
    shopper.phone.set_offline(True)
    shopper.page.evaluate(CAMERA, bars(GTIN))
    sheet = by_barcode(shopper)
    assert shopper.page.evaluate("window.asked") == 0
    sheet.get_by_role("button", name="Read it with the camera").tap()
    expect(sheet.get_by_text(OAT_SOAP)).to_be_visible()
    # The camera is let go of as soon as the number is read.
    assert shopper.page.evaluate("window.stream.getTracks().every((track) => track.readyState === 'ended')")
    sheet.get_by_role("button", name="The tag shows $2.91").tap()
    shopper.told(f"Found for $2.91: {OAT_SOAP}")
    assert shopper.faults == []


def test_without_the_camera_the_digits_are_typed(shopper: Shopper) -> None:
    shopper.page.evaluate(
        """() => { navigator.mediaDevices.getUserMedia = async () => {
            throw new DOMException('denied', 'NotAllowedError'); }; }"""
    )
    sheet = by_barcode(shopper)
    sheet.get_by_role("button", name="Read it with the camera").tap()
    expect(sheet.get_by_role("alert")).to_have_text(
        "The camera may not be used here. Type the digits under the barcode."
    )
    sheet.get_by_label("Digits under the barcode").fill("20000 0000 0015")
    sheet.get_by_role("button", name="Look it up").tap()
    expect(sheet.get_by_text(OAT_SOAP)).to_be_visible()


@pytest.mark.parametrize(
    ("digits", "gtin", "mend"),
    [
        ("012345000065", "00012345000065", ""),
        ("01234565", "00012345000065", ""),  # the same, shortened
        ("2000000000015", "02000000000015", ""),
        ("2000000000016", "", "The last digit does not fit the others: read the number again."),
        ("12345", "", "The digits under a barcode are 8, 12, 13 or 14, here are 5: count them again."),
        ("00000000", "", "Zeros only are no product: read the number again."),
        ("soap", "", "Write the 8, 12, 13 or 14 digits under the barcode, digits only."),
    ],
)
def test_typed_digits_are_checked(module_page: Page, digits: str, gtin: str, mend: str) -> None:
    read = module_page.evaluate(
        "async (digits) => (await import('/web/phone/product-code.js')).readProductCode(digits)", digits
    )
    assert read == {"gtin": gtin, "mend": mend}
