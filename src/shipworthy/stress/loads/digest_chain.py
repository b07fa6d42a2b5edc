"""What a load keeps between the pieces of a round: a digest that is held twice."""

from __future__ import annotations

from dataclasses import dataclass

_ALL = 2**64 - 1


@dataclass
class Chain:
    """The digest of a round's products so far, kept twice: as it is and inverted.

    proven: whether all of them were proven. spoilt: whether the two copies ever disagreed.
    """

    value: int = 0
    inverted: int = _ALL
    proven: bool = True
    spoilt: bool = False

    def keep(self, value: int) -> None:
        self.value, self.inverted = value, value ^ _ALL

    def broken(self) -> bool:
        return self.value ^ self.inverted != _ALL
