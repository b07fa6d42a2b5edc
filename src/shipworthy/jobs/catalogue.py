"""The shop's own part list: where it lies, opened for looking up, imported into, and its aliases."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from shipworthy.jobs.errands import home
from shipworthy.model.base import Trouble, decode_lines, digest_of, encode, read_bytes
from shipworthy.model.catalogue import Alias, CataloguePart
from shipworthy.model.catalogue_used import Decided
from shipworthy.model.orders import Order
from shipworthy.model.words import Category
from shipworthy.record.files import disk_trouble, make_folders, write_whole
from shipworthy.record.locks import Held, Lock

if TYPE_CHECKING:  # what looks up, and what imports, is loaded where there is a list: most verbs only ask
    from shipworthy.orders.catalogue.index import Index
    from shipworthy.orders.catalogue.lists import Listed
    from shipworthy.orders.catalogue.lookup import Catalogue, Found
    from shipworthy.orders.catalogue.open_values import Notes
    from shipworthy.orders.catalogue.records import Wrong
    from shipworthy.orders.catalogue.report import ImportReport
    from shipworthy.orders.catalogue.resolve import Resolved

NAME = "catalogue"
ALIASES = "aliases.jsonl"


def shops_list() -> Path | None:
    """Return the list in the shop's folder; None where it keeps none. Raises Trouble for more than one."""
    from shipworthy.orders.catalogue.lists import SUFFIXES

    found = [path for suffix in SUFFIXES if (path := home() / f"{NAME}{suffix}").exists()]
    if len(found) > 1:
        names = " and ".join(path.name for path in found)
        raise Trouble(
            f"there is more than one part list: {names}", home(), "Import one into the other, and remove it."
        )
    return found[0] if found else None


def open_catalogue(path: Path) -> Catalogue:
    """Return the list in a file, ready for looking up.

    Its index is kept beside it, and made again when the list has changed. Raises Trouble for a list of which
    a record is wrong: the part that was ordered could be that one.
    """
    from shipworthy.orders.catalogue.lists import refuse_large
    from shipworthy.orders.catalogue.lookup import Catalogue

    refuse_large(path)
    data = read_bytes(path)
    index = _kept_index(path, digest_of(data)) or _new_index(path, data)
    return Catalogue(index, path.name, aliases_beside(path))


def held_against(order: Order, path: Path | None) -> Resolved | None:
    """Return an order, with its expectations, held against a list; None where there is no list."""
    if path is None:
        return None
    from shipworthy.orders.catalogue.resolve import resolved

    return resolved(order, open_catalogue(path))


def the_catalogue(path: Path | None = None) -> tuple[Catalogue, Path]:
    """Return the list and where it lies. Raises Trouble where there is none."""
    path = path or shops_list()
    if path is None:
        mend = "Bring one in with `shipworthy catalogue import FILE`, or name one with --catalogue."
        raise Trouble("the shop has no part list here", home(), mend)
    return open_catalogue(path), path


def _index_path(path: Path) -> Path:
    return path.with_name(f"{path.name}.index")


def _kept_index(path: Path, digest: str) -> Index | None:
    from shipworthy.orders.catalogue.index import index_from

    kept = _index_path(path)
    return index_from(read_bytes(kept), digest) if kept.is_file() else None


def _new_index(path: Path, data: bytes) -> Index:
    from shipworthy.orders.catalogue.index import index_bytes, indexed
    from shipworthy.orders.catalogue.lists import list_of
    from shipworthy.orders.catalogue.merge import credits_of

    listed = list_of(data, path)
    _refuse_faults(listed, path)
    index = indexed(listed.parts, digest_of(data), credits_of(listed.parts))
    with suppress(Trouble):  # where nothing can be kept it is made again each time
        write_whole(_index_path(path), index_bytes(index))
    return index


def _refuse_faults(listed: Listed, path: Path) -> None:
    if listed.faults:
        first, more = listed.faults[0], len(listed.faults) - 1
        others = f", and {more:,} more are wrong" if more else ""
        raise Trouble(f"{first.where}: {first.what}{others}", path, "Correct the list and try again.")


# Importing


def import_into(
    target: Path | None, sources: Iterable[Path], *, replace: bool = False
) -> tuple[Path, ImportReport]:
    """Bring lists, or open part records, into a list of JSON lines; return it with the report.

    target: None for the shop's own list. Nothing is written where nothing came in.
    """
    from shipworthy.orders.catalogue.lists import Listed, read_list
    from shipworthy.orders.catalogue.merge import merged
    from shipworthy.orders.catalogue.open_values import Notes

    target = target or shops_list() or home() / f"{NAME}.jsonl"
    if target.suffix != ".jsonl":
        mend = "Name a `.jsonl` file with --into; the old list can be imported into it too."
        raise Trouble("an import writes JSON lines, and the list is none", target, mend)
    with one_writer(target):
        there = read_list(target) if target.exists() else Listed((), ())
        _refuse_faults(there, target)
        notes = Notes()
        whole, report = merged(there.parts, _incoming(sources, notes), notes, replace=replace)
        if report.new or report.replaced:
            with disk_trouble(target):
                make_folders(target.parent)
            write_whole(target, b"".join(encode(part) + b"\n" for part in whole))
            open_catalogue(target)
    return target, report


@contextmanager
def one_writer(path: Path) -> Iterator[None]:
    """Hold a lock beside a file while it is changed; none where its folder is not there yet."""
    if not path.parent.is_dir():
        yield
        return
    try:
        with disk_trouble(path):
            lock = Lock.wait_for(path.with_name(f".{path.name}.lock"))
    except Held as held:
        raise Trouble(f"{held.holder} changes it", path, "Try again in a moment.") from held
    with lock:
        yield


def _incoming(sources: Iterable[Path], notes: Notes) -> Iterator[tuple[str, CataloguePart | Wrong]]:
    from shipworthy.orders.catalogue.lists import read_list
    from shipworthy.orders.catalogue.open_records import open_files, open_parts
    from shipworthy.orders.catalogue.records import Wrong

    for source in sources:
        files = open_files(source)
        if source.is_dir() and not files:
            raise Trouble("holds no part records that are known", source, "Name the files one by one.")
        for file in files:
            for row, part in open_parts(file, notes):
                yield f"{file.name}, {row}", part
        if not files:
            listed = read_list(source)
            yield from ((fault.where, Wrong(fault.what)) for fault in listed.faults)
            yield from ((source.name, part) for part in listed.parts)


def find(catalogue: Catalogue, text: str, category: Category | None = None) -> Found:
    """Look a text up as a part number, else as a GTIN, else by what it names.

    Raises Trouble for digits that can only be a GTIN and whose check digit is wrong.
    """
    from shipworthy.orders.catalogue.numbers import gtin_key

    for found in (catalogue.by_number(text, category), catalogue.by_gtin(text, category)):
        if found.decided is not Decided.NONE:
            return found
    digits = text.strip()
    if digits.isascii() and digits.isdigit() and len(digits) in (12, 13, 14) and not gtin_key(digits):
        raise Trouble(
            "no part has that number, and as a GTIN its check digit is wrong", digits, "Copy it again."
        )
    return catalogue.by_name(text, category)


def aliases_beside(path: Path) -> tuple[Alias, ...]:
    """Return the aliases of a list as they stand."""
    beside = path.with_name(ALIASES)
    if not beside.exists():
        return ()
    from shipworthy.orders.catalogue.aliases import current

    lines, _ = decode_lines(read_bytes(beside), Alias, beside)
    return current(lines)


def the_part(catalogue: Catalogue, part_id: str) -> CataloguePart:
    """Return the part of that id. Raises Trouble where the list has none."""
    part = catalogue.part(part_id)
    if part is None:
        mend = "`shipworthy catalogue find` shows the ids of parts."
        raise Trouble("the list has no part of that id", repr(part_id), mend)
    return part


def category_of(text: str | None) -> Category | None:
    """Return the category of that name. Raises Trouble for any other word."""
    if text is None:
        return None
    try:
        return Category(text)
    except ValueError as error:
        known = ", ".join(c.value for c in Category if c is not Category.UNIT)
        raise Trouble(f"no category is called {text!r}", "", f"Use one of: {known}.") from error
