"""Which library multiplies, and which code it chose for this core: results and rates depend on both."""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Any

MAPS = Path("/proc/self/maps")
CORE_NAMES = (
    "scipy_openblas_get_corename64_",
    "scipy_openblas_get_corename",
    "openblas_get_corename64_",
    "openblas_get_corename",
)


def library_and_core(np: Any) -> str:
    """Return both: equal texts mean the same code."""
    return ", ".join(part for part in (library_text(np), core_text()) if part)


def library_text(np: Any) -> str:
    """Return numpy's version and the library's name and version, as numpy was built with it."""
    blas = np.show_config(mode="dicts").get("Build Dependencies", {}).get("blas", {})
    return f"numpy {np.__version__}, {blas.get('name', '')} {blas.get('version', '')}".strip(", ")


def core_text() -> str:
    """Return the kind of core that the loaded OpenBLAS chose its code for; empty if that cannot be told."""
    for path in loaded_libraries(MAPS.read_text("utf-8", errors="replace"), "blas"):
        try:
            library = ctypes.CDLL(path)
        except OSError:
            continue
        for name in CORE_NAMES:
            if hasattr(library, name):
                function = getattr(library, name)
                function.restype = ctypes.c_char_p
                return bytes(function() or b"").decode("ascii", errors="replace")
    return ""


def loaded_libraries(maps: str, word: str) -> tuple[str, ...]:
    """Return the files with that word in their names that are mapped (proc_pid_maps(5): sixth field)."""
    fields = (line.split(maxsplit=5) for line in maps.splitlines())
    paths = (field[5] for field in fields if len(field) == 6 and field[5].startswith("/"))
    return tuple(dict.fromkeys(path for path in paths if word in Path(path).name.lower()))
