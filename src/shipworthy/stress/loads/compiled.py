"""Where compiled loops are kept. numba keeps them beside the source unless that cannot be written.

Imported before numba: it reads NUMBA_CACHE_DIR once.
"""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs


def _cache_folder(beside: Path, own: Path) -> Path | None:
    """Return where to keep compiled loops; None if nothing can be kept here, and each start compiles."""
    for folder in (beside, own):
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            continue
        if os.access(folder, os.W_OK | os.X_OK):
            return folder
    return None


_BESIDE = Path(__file__).parent / "__pycache__"
_FOLDER = _cache_folder(_BESIDE, platformdirs.user_cache_path("shipworthy") / "compiled")
if _FOLDER not in (None, _BESIDE):
    os.environ.setdefault("NUMBA_CACHE_DIR", str(_FOLDER))

CACHED = _FOLDER is not None
"""Whether loops are to be compiled with `cache=True`."""
