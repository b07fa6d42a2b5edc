"""A sealed record, as its readers see it: each file is held against the list as it is read."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TypeVar

from shipworthy.model.attempt import Attempt
from shipworthy.model.base import Digest, Trouble, decode, decode_lines, digest_of, read_bytes
from shipworthy.record.layout import ATTEMPT_FILE, MANIFEST, PAYLOAD, TAG_MANIFEST
from shipworthy.record.manifest import Manifest, read_manifest
from shipworthy.record.tree import Tree

R = TypeVar("R")


class Sealed:
    """A record's folder. Whose seal it bears is another question: see `record.verify`."""

    def __init__(self, folder: Path) -> None:
        """Raises Trouble if the folder is not a sealed record."""
        self.folder = folder
        if not (folder / TAG_MANIFEST).is_file():
            raise Trouble("that is not a sealed record", folder, "Name the folder of a sealed attempt.")
        tags = read_bytes(folder / TAG_MANIFEST)
        self.digest: Digest = digest_of(tags)
        manifest = read_bytes(folder / MANIFEST)
        _refuse_unless(read_manifest(tags).digests.get(MANIFEST), manifest, MANIFEST, folder)
        self._manifest: Manifest = read_manifest(manifest)

    @cached_property
    def attempt(self) -> Attempt:
        return self.read(ATTEMPT_FILE, Attempt)

    def names(self) -> tuple[str, ...]:
        """Return the names of the record's files, in order."""
        prefix = f"{PAYLOAD}/"
        return tuple(sorted(name.removeprefix(prefix) for name in self._manifest.digests))

    def path(self, name: str) -> Path:
        """Return where a file lies, for those who need a path (large media); nothing is checked."""
        return self.folder / PAYLOAD / name

    def bytes(self, name: str) -> bytes:
        """Return a file's bytes; Trouble if the record holds none of that name, or it was changed."""
        listed = f"{PAYLOAD}/{name}"
        expected = self._manifest.digests.get(listed)
        if expected is None:
            raise Trouble(f"the record holds no {name}", self.folder, "Run `verify` on the record.")
        try:
            with Tree(self.folder) as tree, open(tree.open_file(listed), "rb") as file:
                data = file.read()
        except OSError as error:
            raise Trouble(
                f"cannot read {name}: {error.strerror}", self.folder, "Run `verify` on the record."
            ) from error
        _refuse_unless(expected, data, name, self.folder)
        return data

    def read(self, name: str, kind: type[R]) -> R:
        """Return the record that a file holds; Trouble if it is not exactly one of that kind."""
        return decode(self.bytes(name), kind, self.path(name))

    def lines(self, name: str, kind: type[R]) -> list[R]:
        """Return the records of a file of lines; a torn last line is left out."""
        return decode_lines(self.bytes(name), kind, self.path(name))[0]


def _refuse_unless(expected: str | None, data: bytes, name: str, folder: Path) -> None:
    if digest_of(data) != f"sha512:{expected}":
        raise Trouble(f"{name} is not as it was sealed", folder, "Run `verify`; get a good copy.")
