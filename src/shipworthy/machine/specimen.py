"""Take a specimen: a reading in which nothing personal is left, fit for a bug report and for a test."""

from __future__ import annotations

import os

import msgspec

from shipworthy.machine.personal import (
    Scrubber,
    clean_row,
    personal_texts,
    refuse_what_is_left,
    scrubbed_files,
    without_own_words,
)
from shipworthy.machine.pseudonyms import Pseudonyms
from shipworthy.machine.raw import Reply
from shipworthy.machine.reading import INDEX, READING, Keep, take_reading, understand
from shipworthy.machine.reports import known_sources
from shipworthy.machine.root import Root
from shipworthy.model.base import encode, encode_pretty
from shipworthy.model.reading import Reading
from shipworthy.model.time import Clock, uuid7


def take_specimen(root: Root, keep: Keep, *, host: str, clock: Clock) -> Reading:
    """Take a reading, keep it without anything personal, and return that.

    host: the machine's name, which is personal too. What was asked for and how it went stays; serials, UUIDs,
    hardware addresses and names are pseudonyms. Raises Trouble, and keeps nothing, if something personal
    would be left.
    """
    files: dict[str, bytes] = {}

    def keep_here(name: str, data: bytes) -> None:
        files[name] = data

    reading = take_reading(root, keep_here, nonce=None, clock=clock)
    raw = {name: data for name, data in files.items() if name not in (INDEX, READING)}
    personal = without_own_words(personal_texts(reading.parts, raw, host), reading)
    scrubber = Scrubber(personal, Pseudonyms(os.urandom(32)))
    clean = scrubbed_files(raw, scrubber)
    rows = [clean_row(row, clean, scrubber) for row in reading.sources]
    replies: dict[str, list[Reply]] = {}
    for row in rows:
        data = clean[row.file] if row.file is not None else b""  # by its new name, as the row has it
        suffix = "" if row.file is None else row.file.rsplit(".", 1)[-1]
        replies.setdefault(row.source, []).append(
            Reply(row.id, row.locator, row.outcome, data, row.error, suffix)
        )
    understood = understand((s, tuple(replies[s.name])) for s in known_sources() if s.name in replies)
    specimen = msgspec.structs.replace(
        reading,
        reading_id=uuid7(clock),
        taken=msgspec.structs.replace(reading.taken, boot_id=None),
        sources=tuple(rows),
        parts=understood.parts,
        ports=understood.ports,
        configuration=understood.configuration,
        remarks=understood.remarks,
    )
    told = {
        **clean,
        INDEX: b"".join(encode(row) + b"\n" for row in rows),
        READING: encode_pretty(specimen),
    }
    refuse_what_is_left(told, scrubber)  # a spelling that nobody thought of shows in what is decoded
    for name, data in told.items():
        keep(name, data)
    return specimen
