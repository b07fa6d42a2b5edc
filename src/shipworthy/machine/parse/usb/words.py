"""Words for USB's numbers: classes (USB-IF, Defined Class Codes), kinds of descriptors and capabilities.

Kinds: USB 3.2 specification, tables 9-6 and 9-14 (from memory, held against linux/usb/ch9.h).
"""

from __future__ import annotations

PER_INTERFACE = 0x00
HUB = 0x09
CLASSES = {
    PER_INTERFACE: "per interface",
    0x01: "audio",
    0x02: "communications",
    0x03: "HID",
    0x05: "physical",
    0x06: "image",
    0x07: "printer",
    0x08: "mass storage",
    HUB: "hub",
    0x0A: "CDC data",
    0x0B: "smart card",
    0x0D: "content security",
    0x0E: "video",
    0x0F: "personal healthcare",
    0x10: "audio/video",
    0x11: "billboard",
    0x12: "USB-C bridge",
    0x13: "bulk display",
    0x14: "MCTP",
    0x3C: "I3C",
    0xDC: "diagnostic",
    0xE0: "wireless controller",
    0xEF: "miscellaneous",
    0xFE: "application specific",
    0xFF: "vendor specific",
}
DESCRIPTORS = {
    0x01: "device",
    0x02: "configuration",
    0x03: "string",
    0x04: "interface",
    0x05: "endpoint",
    0x06: "device qualifier",
    0x07: "other speed configuration",
    0x08: "interface power",
    0x09: "OTG",
    0x0A: "debug",
    0x0B: "interface association",
    0x0F: "BOS",
    0x10: "device capability",
    0x21: "HID, or of a class",
    0x24: "of the interface's class",
    0x25: "of the endpoint's class",
    0x29: "hub",
    0x2A: "SuperSpeed hub",
    0x30: "SuperSpeed endpoint companion",
    0x31: "SuperSpeedPlus isochronous endpoint companion",
}
CAPABILITIES = {
    0x01: "wireless USB",
    0x02: "USB 2.0 extension",
    0x03: "SuperSpeed",
    0x04: "container id",
    0x05: "platform",
    0x06: "power delivery",
    0x07: "battery",
    0x08: "power delivery consumer port",
    0x09: "power delivery provider port",
    0x0A: "SuperSpeedPlus",
    0x0B: "precision time measurement",
    0x0D: "billboard",
    0x0E: "authentication",
    0x0F: "billboard alternate mode",
    0x10: "configuration summary",
}
TRANSFERS = ("control", "isochronous", "bulk", "interrupt")


def class_word(code: int) -> str:
    """Return what a class is for."""
    return CLASSES.get(code, f"class 0x{code:02x}")
