"""The handover pack: a page, a print and a statement of what they were made from, in one folder."""

from __future__ import annotations

import os
import secrets
import shutil
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from shipworthy.handover.facts import handover_of
from shipworthy.handover.page import render_page
from shipworthy.handover.print import render_print
from shipworthy.model.attempt import Attempt, PackFile, PackStatement
from shipworthy.model.base import Trouble, digest_of, encode
from shipworthy.record.files import disk_trouble, make_folders, sync_folder, write_whole
from shipworthy.record.keys import SigningKey, sign_attached
from shipworthy.record.sealed import Sealed

PAGE, PRINT, STATEMENT = "report.html", "report.pdf", "pack.jws"


@dataclass(frozen=True)
class Pack:
    """Where a pack lies."""

    folder: Path
    html: Path
    pdf: Path


def render(record: Path, out: Path, key: SigningKey | None) -> Pack:
    """Render a sealed record into the folder `out`, which appears whole or not at all.

    A pack that was there is replaced: it is a rendering, and the same record gives the same page and print.
    key: signs the statement; with None there is none, and the pages say so. Raises Trouble if the record
    cannot be read, if `out` is something else than a pack, or if the disk refuses.
    """
    sealed = Sealed(record)
    attempt = sealed.read("attempt.json", Attempt)
    view = handover_of(sealed, signed=key is not None)
    files = {PAGE: render_page(view), PRINT: render_print(view)}
    statement = PackStatement(
        unit_id=attempt.unit_id,
        attempt_id=attempt.attempt_id,
        number=attempt.number,
        record_digest=sealed.digest,
        files=tuple(PackFile(file=name, digest=digest_of(data)) for name, data in files.items()),
    )
    if key is not None:
        files[STATEMENT] = sign_attached(encode(statement), key).encode("ascii")
    _put(out, files)
    return Pack(out, out / PAGE, out / PRINT)


def _put(out: Path, files: dict[str, bytes]) -> None:
    """Write the files into a folder of another name, then let it take the place of the old one."""
    _refuse_other_folders(out)
    with disk_trouble(out):
        make_folders(out.parent)
        part = out.with_name(f".{out.name}.{secrets.token_hex(6)}")
        part.mkdir()
    try:
        for name, data in files.items():
            write_whole(part / name, data)
        with disk_trouble(out):
            _replace(part, out)
            sync_folder(out.parent)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _replace(part: Path, out: Path) -> None:
    """Let `part` become `out`. Between two renames a reader may find no pack, never half of one."""
    aside = out.with_name(f".{out.name}.{secrets.token_hex(6)}.old")
    with suppress(FileNotFoundError):
        out.rename(aside)
    try:
        part.rename(out)
    except OSError:
        with suppress(FileNotFoundError):
            aside.rename(out)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _refuse_other_folders(out: Path) -> None:
    if out.is_symlink() or (os.path.lexists(out) and not out.is_dir()):
        raise Trouble("something else than a pack is there", out, "Name another folder for the pack.")
    if out.is_dir():
        strange = sorted({entry.name for entry in out.iterdir()} - {PAGE, PRINT, STATEMENT})
        if strange:
            raise Trouble(
                f"this folder holds other things than a pack, such as {strange[0]}",
                out,
                "Name another folder for the pack, or move them away.",
            )
