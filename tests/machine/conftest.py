"""What the tests of reading a machine share: unpacked recorded machines, and golden files with a switch."""

from __future__ import annotations

import re
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

_NEVER_READ = re.compile(
    r"/(power|mq|trace|iosched|memory\d+|integrity|cache|cpuidle|node\d+|microcode|hotplug)(/|$)"
)
"""Folders in recorded trees that no source asks for: thousands of files that need not be unpacked."""


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update-golden",
        action="store_true",
        default=False,
        help="write the golden files anew; read the diff",
    )


@pytest.fixture(scope="session")
def unpacked(reference: Path, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Return a function that unpacks an archive of the reference data once and gives its folder."""
    done: dict[str, Path] = {}

    def unpack(name: str) -> Path:
        if name not in done:
            folder = tmp_path_factory.mktemp(Path(name).name.split(".")[0])
            with tarfile.open(reference / name) as archive:
                # links are kept as they are, also absolute ones: a recorded machine has them
                wanted = [member for member in archive if not _NEVER_READ.search(member.name)]
                archive.extractall(folder, wanted, filter="fully_trusted")
            inner = [entry for entry in folder.iterdir() if entry.is_dir()]
            whole = {"sys", "proc"} & {entry.name for entry in inner}
            done[name] = folder if whole or len(inner) != 1 else inner[0]
        return done[name]

    return unpack


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, bytes], None]:
    """Return a function that compares bytes with a golden file, or writes it under --update-golden."""
    update = request.config.getoption("--update-golden", default=False)

    def check(name: str, data: bytes) -> None:
        file = Path(__file__).parent / "golden" / name
        if update:
            file.parent.mkdir(exist_ok=True)
            file.write_bytes(data)
        assert file.is_file(), f"{file} is missing: run pytest tests/machine --update-golden"
        assert data.decode() == file.read_text("utf-8")

    return check
