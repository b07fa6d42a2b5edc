"""Find loads by entry points; those of other packages run only if the policy names them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import metadata

from shipworthy.model.base import Trouble, digest_of
from shipworthy.stress.protocol import GROUP, PROTOCOL, Load

OWN_DISTRIBUTION = "shipworthy"


@dataclass(frozen=True)
class Found:
    """A registered load and where it comes from. entry: `module:attribute`."""

    load: Load
    entry: str
    distribution: str
    version: str
    digest: str

    @property
    def outside(self) -> bool:
        return self.distribution != OWN_DISTRIBUTION


def registered_names() -> tuple[str, ...]:
    """Return the names of all loads that are installed."""
    return tuple(sorted({entry.name for entry in metadata.entry_points(group=GROUP)}))


def find_load(name: str, outside_loads: Iterable[str] = ()) -> Found:
    """Return the load of that name.

    Raises Trouble if there is none, if two packages claim the name, if it belongs to another package and
    is not in `outside_loads`, or if it speaks another protocol.
    """
    entries = metadata.entry_points(group=GROUP, name=name)
    own = [entry for entry in entries if _distribution_name(entry) == OWN_DISTRIBUTION]
    candidates = own or list({entry.value: entry for entry in entries}.values())
    if not candidates:
        raise Trouble(f"no load is called {name}", "plan", f"Installed are: {', '.join(registered_names())}.")
    if len(candidates) > 1:
        raise Trouble(f"two packages have a load called {name}", "plan", "Uninstall one of them.")
    entry = candidates[0]
    distribution = _distribution_name(entry)
    if distribution != OWN_DISTRIBUTION and name not in outside_loads:
        raise Trouble(
            f"the load {name} belongs to the package {distribution}, which the policy does not allow",
            "plan",
            f"Name {name} under outside_loads in the policy, or take it out of the plan.",
        )
    return Found(
        load=_load_of(entry),
        entry=entry.value,
        distribution=distribution,
        version=entry.dist.version if entry.dist else "",
        digest=_digest(entry.dist) if entry.dist else digest_of(b""),
    )


def load_at(entry: str, name: str) -> Load:
    """Return the load at `module:attribute`, in the load's own process."""
    return _load_of(metadata.EntryPoint(name, entry, GROUP))


def _load_of(entry: metadata.EntryPoint) -> Load:
    load: Load = entry.load()
    if load.protocol != PROTOCOL:
        raise Trouble(
            f"the load {entry.name} speaks protocol {load.protocol}, this tool speaks {PROTOCOL}",
            entry.value,
            "Install a version of it that fits.",
        )
    return load


def _distribution_name(entry: metadata.EntryPoint) -> str:
    return entry.dist.name if entry.dist else ""


def _digest(distribution: metadata.Distribution) -> str:
    """Return the digest over the installed Python files of a distribution: path and SHA-512 of each."""
    rows = []
    for file in sorted(distribution.files or (), key=str):
        if file.suffix == ".py" and (path := file.locate()):
            try:
                with open(str(path), "rb") as stream:
                    rows.append(f"{hashlib.file_digest(stream, 'sha512').hexdigest()}  {file}\n")
            except OSError:
                rows.append(f"unreadable  {file}\n")
    return digest_of("".join(rows).encode())
