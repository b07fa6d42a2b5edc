"""What the pages of drives have in common, be they NVMe's, ATA's or SCSI's."""

from __future__ import annotations

from shipworthy.machine.listing import text_or_silence
from shipworthy.machine.raw import Reply, remark
from shipworthy.model.facts import Said
from shipworthy.model.reading import Remark
from shipworthy.model.words import Absent, RemarkKind


def says_nothing(data: bytes, size: int) -> Absent | None:
    """Return why a page of so many bytes is none: all 0 is silence, all FF a dead bus; None if it is one."""
    if len(data) < size:
        return Absent.IMPLAUSIBLE
    if not any(data[:size]):
        return Absent.NOT_OFFERED
    return Absent.IMPLAUSIBLE if _is_dead_bus(data, size) else None


def page_remarks(reply: Reply, size: int, where: str) -> tuple[Remark, ...]:
    """Name a reply that is no page of so many bytes: cut short, or from a dead bus."""
    if len(reply.data) < size:
        return (remark(reply.id, RemarkKind.CUT_SHORT, where, f"{len(reply.data)} of {size} bytes"),)
    if _is_dead_bus(reply.data, size):
        return (remark(reply.id, RemarkKind.BAD_VALUE, where, "every byte is FFh"),)
    return ()


def _is_dead_bus(data: bytes, size: int) -> bool:
    return data[:size] == b"\xff" * size


def ascii_text(data: bytes) -> str | Absent:
    """Return a padded ASCII field without its padding; not offered if nothing or a placeholder is in it."""
    return text_or_silence(data.decode("ascii", "replace").strip(" \0"))


def told(fields: tuple[Said, ...]) -> tuple[tuple[str, str | int | float | bool], ...]:
    """Return fields for people: the value, or the word for why there is none."""
    return tuple(
        (field.name, field.value if field.value is not None else str(field.absent)) for field in fields
    )
