"""What a burn-in imports, as a disk of the virtual PC: this environment's own copies.

The loops are compiled here, for the guest's processor by its own name and features: the emulated one needs a
minute for what takes seconds here. numba itself takes them only where they fit the guest's code.
"""

from __future__ import annotations

import compileall
import importlib.util
import os
import shutil
import subprocess
import sys
from importlib import metadata
from pathlib import Path

OURS = "shipworthy"
NEEDED = (
    *("msgspec", "click", "platformdirs", "defusedxml", "numpy", "scipy"),
    *("numba", "llvmlite", "cryptography", "cffi"),
)
LOOPS = ("digest_kernels", "march_kernels", "pattern_kernels", "ring_kernels")
LOADS = f"{OURS}/stress/loads"


def stage(folder: Path) -> None:
    """Copy the packages into a folder. Times are whole seconds, as the disk keeps them: what is compiled
    notes the time of its source."""
    spec = importlib.util.find_spec(OURS)
    assert spec is not None and spec.submodule_search_locations
    ours = Path(next(iter(spec.submodule_search_locations)))
    shutil.copytree(ours, folder / OURS, ignore=shutil.ignore_patterns("__pycache__"))
    told = _metadata_of(OURS)
    shutil.copytree(told, folder / told.name)
    for name in NEEDED:
        for file in metadata.distribution(name).files or ():
            if not {"..", "tests"} & set(file.parts):  # what goes elsewhere: commands
                (folder / file).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(str(file.locate()), folder / file)
    for path in folder.rglob("*"):
        seconds = int(path.stat().st_mtime)
        os.utime(path, (seconds, seconds))
    compileall.compile_dir(folder, quiet=2, workers=2)


def pack(folder: Path, image: Path) -> None:
    """Make a disk's image of a folder; nothing is compressed, as the guest would take long to undo it."""
    words = ("mksquashfs", str(folder), str(image), "-noI", "-noD", "-noF", "-noX")
    environment = {**os.environ, "PATH": f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"}
    more = ("-noappend", "-quiet", "-no-progress", "-no-xattrs")
    subprocess.run([*words, *more], check=True, capture_output=True, env=environment)


def compile_loops(staged: Path, processor: str, features: str, into: Path) -> None:
    """Compile the loads' loops for a processor, beside the staged code, and copy what came of it."""
    names = ", ".join(f"{OURS}.stress.loads.{name}" for name in LOOPS)
    environment = {**os.environ, "PYTHONPATH": str(staged)}
    environment |= {"NUMBA_CPU_NAME": processor, "NUMBA_CPU_FEATURES": features}
    environment.pop("NUMBA_CACHE_DIR", None)
    subprocess.run([sys.executable, "-c", f"import {names}"], check=True, env=environment, cwd=staged)
    into.mkdir()
    for file in (staged / LOADS / "__pycache__").glob("*.nb?"):
        shutil.copy2(file, into)


def _metadata_of(name: str) -> Path:
    """Return the folder of a distribution's metadata: entry points, version."""
    files = metadata.distribution(name).files or ()
    return Path(str(next(file for file in files if file.name == "METADATA").locate())).parent
