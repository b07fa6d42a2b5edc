"""What every bench action needs to be told: where things lie, with which key, under which policy."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from shipworthy.jobs.ground import Grant
from shipworthy.machine.root import LIVE, Root
from shipworthy.model.inspection import Items, Observation
from shipworthy.model.plan import Plan
from shipworthy.model.progress import Sink, silent
from shipworthy.model.time import Clock, SystemClock

Ask = Callable[[Items], Iterable[Observation]]
"""Asks a person the items that are still open, and gives what they say one by one, so that each is kept."""


@dataclass(frozen=True)
class Bench:
    """Where a bench keeps its things. key: the private key; it never leaves the bench half. trust: the
    list of public keys that signatures are held against. shop: the folder of the shop's lists of its own gear
    and of restocked parts; None where there are none."""

    records: Path
    packs: Path
    key: Path
    trust: Path
    zone: str = "UTC"
    clock: Clock = field(default_factory=SystemClock)
    show: Sink = silent
    shop: Path | None = None


@dataclass(frozen=True)
class RunRequest:
    """One run of the whole job.

    policy: text of the policy and where it came from. plan: None for what burns nothing in.
    answers: a file of inspection answers. ask: asks a
    person at the terminal; None where nobody is there. burn_in_anyway: burn in though something differs
    already. work_folders: folders on further drives that the storage load may write to.
    grants: what that person allows with whole drives, by the serials that were typed.
    seal_unanswered: seal (as a hold) though inspection items are open. until: the last step to do.
    catalogue: the shop's part list; None where it has none.
    """

    order: Path
    policy: tuple[bytes, str]
    plan: Plan | None = None
    unit_id: str | None = None
    answers: Path | None = None
    ask: Ask | None = None
    burn_in_anyway: bool = False
    work_folders: tuple[Path, ...] = ()
    grants: tuple[Grant, ...] = ()
    seal_unanswered: bool = False
    until: str = "seal"
    catalogue: Path | None = None
    root: Root = LIVE
    stop: threading.Event = field(default_factory=threading.Event)


def home() -> Path:
    """Return the folder of the shop's settings: `SHIPWORTHY_HOME`, or the user's configuration folder."""
    if chosen := os.environ.get("SHIPWORTHY_HOME"):
        return Path(chosen)
    import platformdirs

    return Path(platformdirs.user_config_dir("shipworthy", appauthor=False))


def zone_of_this_machine(etc: Path = Path("/etc")) -> str:
    """Return the IANA name of the machine's time zone; `UTC` if it does not say.

    From `TZ`, then the link that `/etc/localtime` is on systems of the systemd family (localtime(5)).
    """
    named = os.environ.get("TZ", "").removeprefix(":")
    if not named:
        link = etc / "localtime"
        target = str(link.readlink()) if link.is_symlink() else ""
        named = target.partition("zoneinfo/")[2]
    return named if re.fullmatch(r"[A-Za-z_+-]+(/[A-Za-z0-9_+-]+)*", named) else "UTC"


@contextmanager
def passing_folder() -> Iterator[Path]:
    """Give a folder for a reading that nobody wants to keep."""
    folder = Path(tempfile.mkdtemp(prefix="shipworthy-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
