"""Fields of one PCI function from its configuration space, its error counters and its resources.

Sources below `/sys/bus/pci/devices/*`: `config` (decoded in the module of that name), `aer_dev_correctable`,
`aer_dev_nonfatal`, `aer_dev_fatal` (sysfs-bus-pci-devices-aer_stats: a kind and its count a line, a total
last), `resource` (start, end and flags a line; the first six are the BARs).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.machine.listing import Listing, said, whole_number
from shipworthy.machine.parse.pci.config import Fetch, decode, from_pieces, names_of
from shipworthy.machine.parse.pci.config_words import CORRECTABLE, UNCORRECTABLE, Config
from shipworthy.machine.parse.pci.links import offered
from shipworthy.machine.placeholders import is_placeholder
from shipworthy.machine.raw import remark
from shipworthy.model.facts import Said
from shipworthy.model.reading import Remark, SourceOutcome
from shipworthy.model.words import Absent, RemarkKind

PIECE = "/config@0x"  # the rows of a listing that hold pieces of a configuration space: offset follows
_MEMORY = 0x200  # flags of a resource: IORESOURCE_MEM of the kernel's ioport.h


def pieces_of(listing: Listing, folder: str) -> Fetch:
    """Return a fetch over the pieces of a configuration space that the listing keeps."""
    pieces: dict[int, bytes] = {}
    for offset in listing.names(f"{folder}/config"):
        at = whole_number(offset)
        if at is not None:
            pieces[at] = listing.data(f"{folder}/config@{offset}")
    return from_pieces(pieces)


def config_of(listing: Listing, folder: str) -> Config | None:
    """Return what a function's configuration space says; None where it was not read or nobody answers."""
    return decode(pieces_of(listing, folder))


def config_remarks(listing: Listing, folder: str, config: Config | None, source: str) -> Iterator[Remark]:
    """Yield what was wrong with a configuration space."""
    address = folder.rsplit("/", 1)[-1]
    head = pieces_of(listing, folder)(0, 4)
    if config is None and head == b"\xff\xff\xff\xff":
        yield remark(source, RemarkKind.NOT_ANSWERED, f"{address} config", "all ones")
    elif config is None and head and head != b"\0\0\0\0":
        yield remark(source, RemarkKind.CUT_SHORT, f"{address} config")
    for fault in config.faults if config is not None else ():
        yield remark(source, fault.kind, f"{address} config, {fault.where}", fault.detail)


def config_facts(config: Config | None) -> tuple[Said, ...]:
    """Return the fields that only a configuration space tells. Its capabilities need root."""
    if config is None:
        return ()
    if not config.readable:
        return said("port_type", Absent.NOT_READABLE), said("payload_bytes", Absent.NOT_READABLE)
    fields: list[Said] = []
    if config.express is not None:
        express = config.express
        fields += [
            said("port_type", express.port_type),
            said("payload_bytes", express.payload_bytes),
            said("payload_max_bytes", express.payload_max_bytes),
        ]
        if express.target_speed_gt_s is not None:
            fields.append(said("link_target_speed_gt_s", express.target_speed_gt_s))
        if express.slot:
            fields.append(said("slot_number", express.slot_number))
            fields.append(said("slot_power_w", express.slot_power_w))
    if config.errors is not None:
        fields.append(said("aer_correctable_status", names_of(config.errors.correctable, CORRECTABLE)))
        fields.append(said("aer_uncorrectable_status", names_of(config.errors.uncorrectable, UNCORRECTABLE)))
    return tuple(fields)


SERIAL = re.compile(r"[0-9a-f]{2}(?:-[0-9a-f]{2}){7}")


def serial_facts(listing: Listing, folder: str, config: Config | None) -> tuple[Said, ...]:
    """Return a function's own serial (device serial number, an EUI-64): from its registers, or as new kernels
    show it in `serial_number`, the name that graphics drivers use for the serial of a card."""
    shown = listing.text(f"{folder}/serial_number") or ""
    text = config.serial if config is not None and config.serial else shown if SERIAL.fullmatch(shown) else ""
    if not text:
        return ()
    return (said("pci_serial", Absent.NOT_OFFERED if is_placeholder(text.replace("-", "")) else text),)


def aer_counts(text: str) -> tuple[int | None, str]:
    """Return the total of an `aer_dev_*` file and its kinds that are not nought, such as `BadTLP 3`."""
    total: int | None = None
    kinds: list[str] = []
    for name, number in re.findall(r"^(\S+) (\d{1,20})$", text, re.MULTILINE):
        if name.startswith("TOTAL_"):
            total = int(number)
        elif int(number):
            kinds.append(f"{name} {int(number)}")
    return total, ", ".join(kinds)


def aer_facts(listing: Listing, folder: str) -> tuple[Said, ...]:
    """Return the counts of errors since the start; nothing where the kernel keeps none for a function."""
    correctable, of_correctable = _counted(listing, f"{folder}/aer_dev_correctable")
    nonfatal, of_nonfatal = _counted(listing, f"{folder}/aer_dev_nonfatal")
    fatal, of_fatal = _counted(listing, f"{folder}/aer_dev_fatal")
    return offered(
        said("aer_correctable", correctable),
        said("aer_correctable_kinds", of_correctable),
        said("aer_nonfatal", nonfatal),
        said("aer_nonfatal_kinds", of_nonfatal),
        said("aer_fatal", fatal),
        said("aer_fatal_kinds", of_fatal),
    )


def _counted(listing: Listing, path: str) -> tuple[int | Absent | None, str | None]:
    row = listing.row(path)
    if row is None or row.outcome is SourceOutcome.ABSENT:
        return None, None
    if row.text is None:
        return Absent.NOT_READABLE, None
    total, kinds = aer_counts(row.text)
    return Absent.IMPLAUSIBLE if total is None else total, kinds or None


def bar_sizes(text: str) -> tuple[int, ...]:
    """Return the sizes of the memory BARs in a function's `resource` file, of the first six lines."""
    sizes: list[int] = []
    for line in text.splitlines()[:6]:
        match = re.fullmatch(r"0x([0-9a-f]{1,16}) 0x([0-9a-f]{1,16}) 0x([0-9a-f]{1,16})", line.strip())
        if match is None:
            continue
        start, end, flags = (int(number, 16) for number in match.groups())
        if flags & _MEMORY and end > start:
            sizes.append(end - start + 1)
    return tuple(sizes)
