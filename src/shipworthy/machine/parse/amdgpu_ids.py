"""AMD's list of graphics products, `amdgpu.ids` of libdrm: a line each of device id, revision id and name.

Form: `73DF,<tab>C1,<tab>AMD Radeon RX 6700 XT`; lines with `#` and the list's version (`1.0.0`) are none.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

_LINE = re.compile(r"([0-9A-Fa-f]{1,4}),\s*([0-9A-Fa-f]{1,2}),\s*(\S.*)")


class Products:
    """The products of a list, by device and revision."""

    def __init__(self, rows: Iterable[tuple[int, int, str]]) -> None:
        self._exact: dict[tuple[int, int], list[str]] = {}
        self._device: dict[int, list[str]] = {}
        for device, revision, name in rows:
            for known in (
                self._exact.setdefault((device, revision), []),
                self._device.setdefault(device, []),
            ):
                if name not in known:
                    known.append(name)

    def of(self, device: int, revision: int | None) -> tuple[tuple[str, ...], bool]:
        """Return the names that a card can have, and whether its revision is in the list.

        A revision that is not in it can be any of its device's products, or one that is newer than the list.
        """
        exact = self._exact.get((device, revision)) if revision is not None else None
        return (tuple(exact), True) if exact else (tuple(self._device.get(device, ())), False)

    def __len__(self) -> int:
        return len(self._exact)


def read_products(text: str) -> Products:
    """Return the products of a list's text; lines of another form are left out."""
    found = (_LINE.fullmatch(line.strip()) for line in text.splitlines())
    return Products((int(m[1], 16), int(m[2], 16), m[3].strip()) for m in found if m)
