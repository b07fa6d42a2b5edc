"""The factors of every product, and which product follows which: alike on every core."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shipworthy.stress.loads.streams import seed_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Matrix = NDArray[Any]

BAND_SHARE = 16  # a sixteenth of both operands is new in every product; all of C depends on it
ROUND_OPERATIONS = 5e9  # about 0.1 s of a core: ten answers a second can be compared without haste
PRODUCTS_MOST = 1024


def products_a_round(size: int) -> int:
    """Return how many products of that size make one round: a number that all cores agree on."""
    return min(PRODUCTS_MOST, max(1, int(ROUND_OPERATIONS / (2 * size**3))))


class Operands:
    """A and B of one product after another, in [−1, 1).

    Product p renews band p mod 16: columns of A and the same rows of B. What a band holds follows from the
    number of the product that renewed it, so any product's operands can be made again from its number.
    """

    def __init__(self, size: int, variant: str, purpose: str) -> None:
        import numpy as np

        self._np, self._size, self._purpose = np, size, purpose
        self._type = np.dtype(variant).type
        self.a: Matrix = np.zeros((size, size), dtype=self._type)
        self.b: Matrix = np.zeros((size, size), dtype=self._type)
        self.rebuild(0)

    def renew(self, product: int) -> None:
        """Make the band that is this product's."""
        band = product % BAND_SHARE
        low, high = self._size * band // BAND_SHARE, self._size * (band + 1) // BAND_SHARE
        random = self._np.random.Generator(self._np.random.SFC64(seed_of(f"{self._purpose}/band/{product}")))
        self.a[:, low:high] = self._uniform(random, (self._size, high - low))
        self.b[low:high] = self._uniform(random, (high - low, self._size))

    def remake_oldest(self, product: int) -> None:
        """Make again what the next product will replace: what befell it in sixteen products shows now."""
        self.renew(product + 1 - BAND_SHARE)

    def rebuild(self, product: int) -> None:
        """Make all bands as they are for this product."""
        for earlier in range(product + 1 - BAND_SHARE, product + 1):
            self.renew(earlier)

    def _uniform(self, random: Any, shape: tuple[int, int]) -> Matrix:
        drawn: Matrix = random.random(shape, dtype=self._type)
        drawn *= self._type(2)
        drawn -= self._type(1)
        return drawn
