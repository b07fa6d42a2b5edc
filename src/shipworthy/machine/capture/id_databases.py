"""Ask for what the system's id lists say of the makers and devices that are fitted, and of no others."""

from __future__ import annotations

from shipworthy.machine.capture.files import Answer, read_file
from shipworthy.machine.parse.id_databases import Key, lines_about
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

# hwdata has all three; pciutils and usbutils bring their own; udev has them in its sources. Where they lie
# differs by distribution (common practice).
PNP_FILES = (
    "/usr/share/hwdata/pnp.ids",
    "/usr/share/misc/pnp.ids",
    "/usr/lib/udev/hwdb.d/20-acpi-vendor.hwdb",
    "/lib/udev/hwdb.d/20-acpi-vendor.hwdb",
)
USB_FILES = (
    "/usr/share/misc/usb.ids",
    "/usr/share/hwdata/usb.ids",
    "/var/lib/usbutils/usb.ids",
    "/usr/lib/udev/hwdb.d/20-usb-vendor-model.hwdb",
    "/lib/udev/hwdb.d/20-usb-vendor-model.hwdb",
)
MOST_BYTES = 16 << 20  # the largest, udev's of PCI, has 4 MB


def names_reply(root: Root, name: str, files: tuple[str, ...], wanted: set[Key]) -> Reply:
    """Return the lines about the wanted as the reply `name`, from the first of the lists that is there.

    Absent where none is installed: then codes are shown. Empty where the list has none of the wanted.
    """
    answer, locator = Answer(SourceOutcome.ABSENT), files[0]
    for file in files:
        found = read_file(root, file, MOST_BYTES)
        if found.outcome is not SourceOutcome.ABSENT:
            answer, locator = found, file
            break
    if answer.outcome is not SourceOutcome.READ:
        return Reply(name, locator, answer.outcome, b"", answer.error)
    lines = lines_about(answer.data, wanted)
    return Reply(name, locator, SourceOutcome.READ if lines else SourceOutcome.EMPTY, lines)
