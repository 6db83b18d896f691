"""A barcode is read by the camera where she allows it, and typed where she does not.

The camera shows a drawn EAN-13, on a canvas or in a film for the browser's own false camera; its number is
for use within a store.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from playwright.sync_api import BrowserContext, Locator, Page, Playwright, expect

from counterfoil.engine.offers import Trip
from tests.browser.saturday import OAT_SOAP, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.browser.waiting import until
from tests.chromium import launch_chromium
from tests.conftest import PHONE
from tests.served import Running

GTIN = "2000000000015"
ODD = (
    *("0001101", "0011001", "0010011", "0111101", "0100011"),
    *("0110001", "0101111", "0111011", "0110111", "0001011"),
)
# Which of the left digits are mirrored says the first digit (GS1 General Specifications): for 2, LLGGLG.
MIRRORED = (False, False, True, True, False, True)

# What reads barcodes is kept on the phone too, as this browser cannot do it alone.
KEPT = """async (files) => {
    const kept = files.map((file) => caches.match('/web/vendor/zxing-wasm/' + file));
    return (await Promise.all(kept)).every(Boolean);
}"""

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

# Every stream that the page was given; while `look` is off, its video is not ready to be read.
STREAMS = """
window.streams = [];
window.look = true;
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (wanted) => {
    const stream = await ask(wanted);
    streams.push(stream);
    return stream;
};
const {get} = Object.getOwnPropertyDescriptor(HTMLMediaElement.prototype, 'readyState');
Object.defineProperty(HTMLMediaElement.prototype, 'readyState', {
    get() { return window.look ? get.call(this) : 0; },
});
"""
LET_GO = "() => streams.map((stream) => stream.getTracks().every((track) => track.readyState === 'ended'))"


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
    until(shopper.page, KEPT, ["es/reader/index.js", "es/share.js", "reader/zxing_reader.wasm"])
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


def film(path: Path, gtin: str) -> Path:
    """A film of the symbol for a false camera: one frame, 640 x 480, YUV4MPEG2; grey, so no colour."""
    width, height, quiet = 640, 480, 255
    row = bytearray([quiet] * width)
    for k, bar in enumerate(bars(gtin)):
        if bar == "1":
            row[82 + 5 * k : 87 + 5 * k] = bytes([16] * 5)
    picture = b"".join(bytes(row) if 80 <= y < 400 else bytes([quiet] * width) for y in range(height))
    no_colour = bytes([128] * (width * height // 2))
    path.write_bytes(b"YUV4MPEG2 W640 H480 F10:1 Ip A1:1 C420jpeg\nFRAME\n" + picture + no_colour)
    return path


def test_a_real_camera_is_asked_for_on_use_alone_seen_live_and_let_go_on_close(
    playwright_: Playwright, running: Callable[..., Running], tmp_path: Path
) -> None:
    server = running()
    bring_in(server.url, trip())
    seen = film(tmp_path / "symbol.y4m", GTIN)
    browser = launch_chromium(
        playwright_,
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={seen}",
    )
    try:
        phone = browser.new_context(
            viewport={"width": PHONE["width"], "height": PHONE["height"]},
            has_touch=True,
            is_mobile=True,
            locale="en-US",
        )
        phone.add_init_script(STREAMS)
        phone.grant_permissions(["camera"], origin=server.url)
        shopper = Shopper(phone, server.url).open()
        page = shopper.page
        # Nothing is read while she looks, so that the view can be seen to stay and to go.
        page.evaluate("() => { window.look = false; }")
        sheet = by_barcode(shopper)
        assert page.evaluate("streams.length") == 0
        sheet.get_by_role("button", name="Read it with the camera").tap()
        view = sheet.get_by_label("What the camera sees")
        expect(view).to_be_visible()
        page.wait_for_function("() => document.querySelector('video').videoWidth === 640")
        sheet.get_by_role("button", name="Stop the camera").tap()
        expect(view).to_be_hidden()
        assert page.evaluate(LET_GO) == [True]
        sheet.get_by_role("button", name="Read it with the camera").tap()
        expect(view).to_be_visible()
        shopper.close()
        page.wait_for_function(f"() => ({LET_GO})().every(Boolean) && streams.length === 2")
        page.evaluate("() => { window.look = true; }")
        sheet = by_barcode(shopper)
        sheet.get_by_role("button", name="Read it with the camera").tap()
        expect(sheet.get_by_text(OAT_SOAP)).to_be_visible()
        assert page.evaluate(LET_GO) == [True, True, True]
        assert shopper.faults == []
    finally:
        browser.close()


def test_the_browsers_own_detector_is_taken_where_it_knows_the_symbols(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    phone.add_init_script(
        f"""window.detectors = [];
        window.BarcodeDetector = class {{
            static async getSupportedFormats() {{ return ['qr_code', 'ean_13', 'ean_8', 'upc_a', 'upc_e']; }}
            constructor({{formats}}) {{ this.looks = 0; this.formats = formats; detectors.push(this); }}
            async detect(picture) {{
                this.saw = picture.localName;
                this.looks += 1;
                // Nothing at first; then a glimpse whose last digit does not fit; then the whole.
                const values = [[], ['2000000000016'], ['{GTIN}']];
                return (values[this.looks - 1] ?? values[2]).map((rawValue) => ({{rawValue}}));
            }}
        }};"""
    )
    zxing: list[str] = []
    phone.on("request", lambda request: zxing.append(request.url) if "zxing" in request.url else None)
    server = running()
    bring_in(server.url, trip())
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    shopper.page.evaluate(CAMERA, bars(GTIN))
    sheet = by_barcode(shopper)
    sheet.get_by_role("button", name="Read it with the camera").tap()
    expect(sheet.get_by_text(OAT_SOAP)).to_be_visible()
    (looked,) = shopper.page.evaluate("detectors.filter(({looks}) => looks > 0)")
    assert (looked["looks"], looked["saw"]) == (3, "video")
    assert looked["formats"] == ["ean_13", "ean_8", "upc_a", "upc_e"]
    # The other reader is neither fetched ahead nor now.
    assert zxing == []


def test_a_detector_that_does_not_know_the_symbols_is_left_alone(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    phone.add_init_script(
        """window.BarcodeDetector = class {
            static async getSupportedFormats() { return ['qr_code']; }
            constructor() { throw new Error('not asked for'); }
        };"""
    )
    server = running()
    bring_in(server.url, trip())
    shopper = Shopper(phone, server.url).open()
    shopper.page.evaluate(CAMERA, bars(GTIN))
    sheet = by_barcode(shopper)
    sheet.get_by_role("button", name="Read it with the camera").tap()
    expect(sheet.get_by_text(OAT_SOAP)).to_be_visible()


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
