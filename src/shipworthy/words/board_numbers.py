"""Part numbers of boards that are names: whether one tells the board that was sold, or a sibling as well.

Makers use a board's name as a part number, and firmware shows no other. Lists cut names at a slash, and have
numbers of siblings among a board's own.
"""

from __future__ import annotations

import re

from shipworthy.words.board_names import NAMES_CHIPSET, plain_name
from shipworthy.words.names import ATOM, Name, difference, lacking


def is_cut_at_a_slash(number: str, name: str) -> bool:
    """Whether a part number is what a name has before a slash, with more behind it: `Z97-A` of
    `Z97-A/USB 3.1`. Lists cut names so, and the piece can be a sibling's whole name.

    Firmware gives the rest: of 82 names with a slash in the reference data (dmi-desktop-text,
    bsd-joined-machines) seven have a board beside them that is called by the piece alone.
    """
    piece = _piece(number)
    return bool(piece) and re.search(rf"{piece}/\s?[^\W_]", plain_name(name)) is not None


def stands_whole(number: str, name: str) -> bool:
    """Whether a part number stands in a name with no mark of another board behind it: `H51M H` does in
    `H51M H HDMI`, and does not in `H51M H V2`."""
    piece = _piece(number)
    match = re.search(rf"{piece}(?![^\W_])[\W_]*([^\W_]*)", plain_name(name)) if piece else None
    if match is None:
        return False
    behind = match[1]
    return NAMES_CHIPSET.match(behind) is not None or not lacking(Name.of(behind), Name.of(""))[0]


def sells_another(want: str, got: str) -> bool:
    """Whether a name that is not the firmware's is that of another board, and not words that name none.

    It then has a mark that the firmware's lacks, or nothing that it lacks (`H37 Pro` sold, `H37M Pro` found).
    """
    parted = difference(plain_name(want), plain_name(got))
    return bool(parted.hard_missing) or not parted.soft_missing


def _piece(number: str) -> str:
    """Return a pattern for a part number within a name, in any spelling; empty for no letters and digits."""
    atoms = ATOM.findall(plain_name(number))
    return r"(?<![^\W_])" + r"[\W_]*".join(map(re.escape, atoms)) if atoms else ""
