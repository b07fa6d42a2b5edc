"""Errors that memory controllers counted since the driver was loaded, in all and by module.

Source: Documentation/ABI/testing/sysfs-devices-edac and Documentation/admin-guide/RAS. A module is told by
the controller's own numbers (`location`); which slot that is, only the board's maker knows. The label is
what somebody who does know wrote there; the text that a driver makes up from the same numbers is no label.
"""

from __future__ import annotations

import re

from shipworthy.machine.listing import Listing, number_or_implausible, said, text_or_silence
from shipworthy.machine.parse.units import MIB
from shipworthy.machine.raw import Parsed, Reply, remark, reply_read
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, PartKind, RemarkKind

FOLDER = "/sys/devices/system/edac/mc"
_CONTROLLER = re.compile(r"mc(\d+)")
_MODULE = re.compile(r"(dimm|rank)(\d+)")
_ROW = re.compile(r"csrow(\d+)")
_CHANNEL = re.compile(r"ch(\d+)_ce_count")
_MADE_UP = re.compile(
    r"mc#?\d+((csrow|channel|branch|slot|rank|memory|layer|dimm|block|row)#?\d+)+"
    r"|CPU_SrcID#\d+\S*"
    r"|(unknown|any) memory",
    re.IGNORECASE,
)
_SILENT = {"unknown", "none", "reserved"}


def parse(replies: tuple[Reply, ...]) -> Parsed:
    """Reply `edac`: `edac:mc0` for each controller, `edac:mc0/dimm-1` for each module (`rank`, or
    `csrow-0-channel-1`, as the driver counts)."""
    reply = reply_read(replies, "edac")
    if reply is None:
        return Parsed()
    listing = Listing(reply.data, reply.id)
    found: list[Sighting] = []
    remarks: list[Remark] = []
    for name in listing.names(FOLDER):
        if not _CONTROLLER.fullmatch(name):
            continue
        place = f"edac:{name}"
        modules = _modules(listing, name) or _channels(listing, name)
        kind = PartKind.MEMORY_CONTROLLER
        found.append(Sighting(kind=kind, place=place, source=reply.id, said=_controller(listing, name)))
        found += [
            Sighting(kind=kind, place=f"{place}/{rest}", source=reply.id, said=fields)
            for rest, fields in modules
        ]
        remarks += _sums(listing, name, [fields for _, fields in modules], reply.id)
    return Parsed(tuple(found), remarks=tuple(remarks))


def _controller(listing: Listing, name: str) -> tuple[Said, ...]:
    folder = f"{FOLDER}/{name}"
    return (
        said("kernel_name", name),
        listing.said("model", f"{folder}/mc_name", _text),
        listing.said("size_bytes", f"{folder}/size_mb", _mib),
        listing.said("counting_s", f"{folder}/seconds_since_reset", _count),
        listing.said("corrected_errors", f"{folder}/ce_count", _count),
        listing.said("uncorrected_errors", f"{folder}/ue_count", _count),
        listing.said("corrected_errors_unplaced", f"{folder}/ce_noinfo_count", _count),
        listing.said("uncorrected_errors_unplaced", f"{folder}/ue_noinfo_count", _count),
    )


def _modules(listing: Listing, name: str) -> list[tuple[str, tuple[Said, ...]]]:
    found: list[tuple[str, tuple[Said, ...]]] = []
    for entry in sorted(listing.names(f"{FOLDER}/{name}"), key=lambda e: (len(e), e)):
        match = _MODULE.fullmatch(entry)
        if match is None:
            continue
        folder = f"{FOLDER}/{name}/{entry}"
        fields = (
            listing.said("label", f"{folder}/dimm_label", _label),
            listing.said("location", f"{folder}/dimm_location", _text),
            listing.said("size_bytes", f"{folder}/size", _mib),
            listing.said("type", f"{folder}/dimm_mem_type", _text),
            listing.said("error_correction", f"{folder}/dimm_edac_mode", _text),
            listing.said("corrected_errors", f"{folder}/dimm_ce_count", _count),
            listing.said("uncorrected_errors", f"{folder}/dimm_ue_count", _count),
        )
        found.append((f"{match[1]}-{match[2]}", fields))
    return found


def _channels(listing: Listing, name: str) -> list[tuple[str, tuple[Said, ...]]]:
    """The older form: rows of chips, each with channels. Size and type are of a row, so of none of them."""
    found: list[tuple[str, tuple[Said, ...]]] = []
    for entry in sorted(listing.names(f"{FOLDER}/{name}"), key=lambda e: (len(e), e)):
        row = _ROW.fullmatch(entry)
        if row is None:
            continue
        folder = f"{FOLDER}/{name}/{entry}"
        for file in listing.names(folder):
            channel = _CHANNEL.fullmatch(file)
            if channel is None:
                continue
            fields = (
                listing.said("label", f"{folder}/ch{channel[1]}_dimm_label", _label),
                said("location", f"csrow {row[1]} channel {channel[1]}"),
                listing.said("error_correction", f"{folder}/edac_mode", _text),
                listing.said("corrected_errors", f"{folder}/{file}", _count),
                listing.said("uncorrected_errors", f"{folder}/ch{channel[1]}_ue_count", _count),
            )
            found.append((f"csrow-{row[1]}-channel-{channel[1]}", fields))
    return found


def _text(text: str) -> str | Absent:
    return Absent.NOT_OFFERED if text.casefold() in _SILENT else text_or_silence(text)


def _label(text: str) -> str | Absent:
    return Absent.NOT_OFFERED if _MADE_UP.fullmatch(text) else _text(text)


def _mib(text: str) -> int | Absent:
    number = number_or_implausible(text)
    if isinstance(number, Absent):
        return number
    return number * MIB if number > 0 else Absent.NOT_OFFERED


def _count(text: str) -> int | Absent:
    number = number_or_implausible(text)
    return number if isinstance(number, int) and number >= 0 else Absent.IMPLAUSIBLE


def _sums(listing: Listing, name: str, modules: list[tuple[Said, ...]], source: str) -> list[Remark]:
    """Name a controller whose own count is less than that of its modules together."""
    remarks: list[Remark] = []
    for field, file in (("corrected_errors", "ce_count"), ("uncorrected_errors", "ue_count")):
        whole = listing.number(f"{FOLDER}/{name}/{file}")
        counts = [word.value for fields in modules for word in fields if word.name == field]
        placed = sum(count for count in counts if isinstance(count, int))
        if whole is not None and placed > whole:
            detail = f"{file} {whole}, of its modules {placed}"
            remarks.append(remark(source, RemarkKind.BAD_VALUE, name, detail))
    return remarks
