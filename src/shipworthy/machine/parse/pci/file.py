"""A file with one PCI configuration space as a source, as sysfs has it: 64, 256 or 4096 bytes."""

from __future__ import annotations

from shipworthy.machine.listing import said
from shipworthy.machine.parse.pci.config import decode, from_bytes
from shipworthy.machine.parse.pci.facts import config_facts
from shipworthy.machine.parse.pci.source import kind_of
from shipworthy.machine.raw import Parsed, Reply, parsed_each, remark
from shipworthy.model.facts import Sighting
from shipworthy.model.words import RemarkKind


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one file: a function, by the file's name, as a space does not tell where it lies."""
    return parsed_each(replies, _parse_file)


def _parse_file(reply: Reply) -> Parsed:
    config = decode(from_bytes(reply.data))
    if config is None:
        silent = reply.data[:4] == b"\xff" * 4
        detail = "all ones: nobody answers" if silent else f"{len(reply.data)} bytes"
        return Parsed(remarks=(remark(reply.id, RemarkKind.BAD_HEADER, "bytes 0-3", detail),))
    class_code = f"0x{config.class_code:06x}"
    fields = (
        said("vendor_id", f"0x{config.vendor:04x}"),
        said("device_id", f"0x{config.device:04x}"),
        said("class", class_code),
        *config_facts(config),
    )
    place = f"file:{reply.locator.lstrip('/')}"
    function = Sighting(kind=kind_of(class_code), place=place, source=reply.id, said=fields)
    return Parsed((function,), remarks=tuple(fault.remark(reply.id) for fault in config.faults))
