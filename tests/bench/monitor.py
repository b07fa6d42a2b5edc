"""An invented monitor's EDID, built by hand from the VESA standard's layout (E-EDID 1.4, section 3)."""

from __future__ import annotations

NAME, SERIAL = "TARN 27Q", "TQ2700451"
MAKER_CODE, PRODUCT, SERIAL_NUMBER = "TRN", 0x2715, 451
WIDTH, HEIGHT, SIZE_MM = 2560, 1440, (597, 336)
WEEK, YEAR = 7, 2026


def edid() -> bytes:
    """Return the base block: 2560 x 1440 at 59.95 Hz (pixel clock 241.5 MHz, CVT with reduced blanking)."""
    letters = [ord(letter) - 64 for letter in MAKER_CODE]
    maker = (letters[0] << 10 | letters[1] << 5 | letters[2]).to_bytes(2, "big")
    head = bytes.fromhex("00ffffffffffff00") + maker + PRODUCT.to_bytes(2, "little")
    head += SERIAL_NUMBER.to_bytes(4, "little") + bytes([WEEK, YEAR - 1990, 1, 4])
    basics = bytes([0xA5, SIZE_MM[0] // 10, SIZE_MM[1] // 10, 120, 0x06])  # digital, 8 bits, DisplayPort
    colours = bytes.fromhex("ee91a3544c99260f5054")
    established, standard = bytes(3), b"\x01\x01" * 8
    block = head + basics + colours + established + standard + _timing()
    block += _text(0xFC, NAME) + _text(0xFF, SERIAL) + bytes([0, 0, 0, 0x10, *([0] * 14)])
    block += b"\0"
    return block + bytes([-sum(block) % 256])


def _timing() -> bytes:
    """Detailed timing: clock in 10 kHz, active and blanking split into low bytes and high nibbles."""
    horizontal, horizontal_blank, vertical, vertical_blank = WIDTH, 160, HEIGHT, 41
    front, width, vertical_front, vertical_width = 48, 32, 3, 5
    return (24150).to_bytes(2, "little") + bytes(
        [
            horizontal & 0xFF,
            horizontal_blank & 0xFF,
            horizontal >> 8 << 4 | horizontal_blank >> 8,
            vertical & 0xFF,
            vertical_blank & 0xFF,
            vertical >> 8 << 4 | vertical_blank >> 8,
            front,
            width,
            vertical_front << 4 | vertical_width,
            0,
            SIZE_MM[0] & 0xFF,
            SIZE_MM[1] & 0xFF,
            SIZE_MM[0] >> 8 << 4 | SIZE_MM[1] >> 8,
            0,
            0,
            0x1A,
        ]
    )


def _text(kind: int, text: str) -> bytes:
    return bytes([0, 0, 0, kind, 0]) + (text.encode() + b"\n").ljust(13)
