"""Freivalds' check of a product of matrices, and its bound.

R. Freivalds, "Probabilistic machines can use less running time", 1977: C = A·B is tested by comparing
A·(B·r) with C·r for random vectors r, in O(n²); here r is of ±1.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from shipworthy.stress.protocol import Wrong

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Matrix = NDArray[Any]

VECTORS = 4
REPEATS = 5  # of a check that failed: 20 more vectors, which an error passes at most once in 2^20
EPSILON = {"float64": 2.0**-52, "float32": 2.0**-23}  # spacing at 1 (IEEE 754 binary64, binary32)
BOUND_FACTOR = 2.0


def residual_bound(size: int, variant: str = "float64") -> float:
    """Return the largest |A·(B·r) − C·r| that rounding may make, for operands in [−1, 1) and r of ±1.

    Rounding errors behave as independent and add up like a random walk (Higham and Mary, "A new approach
    to probabilistic rounding error analysis", SIAM J. Sci. Comput. 41(5), 2019). Summed one by one, an
    element of C is off by ε·n/√216 (one standard deviation: partial sums of k terms have the variance k/9,
    each addition rounds by ε/√12 of that), n of them by √n times as much: 0.068·ε·n^1.5. For float64 the
    check itself is off by as much again for B·r and for A: 0.118·ε·n^1.5 together, and the bound is 17 of
    these. For float32 the check is reckoned in float64 and adds nothing: the bound is 29 of 0.068·ε·n^1.5.
    Libraries that sum in blocks stay lower.
    """
    return BOUND_FACTOR * EPSILON[variant] * size * math.sqrt(size)


class Proof:
    """The check of products of one size, with vectors from a stream of its own."""

    def __init__(self, size: int, variant: str, seed: int) -> None:
        import numpy as np

        from shipworthy.stress.loads.matrix_kernels import times_four

        self._np, self._times_four = np, times_four
        self._random = np.random.Generator(np.random.SFC64(seed))
        self.bound = residual_bound(size, variant)
        self.vectors, self.b_times_r, self.a_times_b_r, self.c_times_r = (
            np.zeros((VECTORS, size)) for _ in range(4)
        )

    def wrong_rows(self, a: Matrix, b: Matrix, c: Matrix) -> tuple[int, ...]:
        """Return the rows of C that cannot be those of A·B; none if it is right within the bound."""
        np = self._np
        self.draw()
        self.times(b, self.vectors, self.b_times_r)
        self.times(a, self.b_times_r, self.a_times_b_r)
        self.times(c, self.vectors, self.c_times_r)
        with np.errstate(all="ignore"):  # a wrong element may be infinite or no number
            right = np.abs(self.a_times_b_r - self.c_times_r).max(axis=0) <= self.bound
        return tuple(int(row) for row in np.flatnonzero(~right))

    def draw(self) -> None:
        """Take fresh vectors."""
        self.vectors[:] = self._random.integers(0, 2, self.vectors.shape) * 2.0 - 1.0

    def times(self, matrix: Matrix, vectors: Matrix, products: Matrix) -> None:
        self._times_four(matrix, vectors, products)


def located(a: Matrix, b: Matrix, c: Matrix, rows: tuple[int, ...]) -> Wrong:
    """Compute the first wrong row once more, in float64, to tell the element and what it should have been."""
    import numpy as np

    row = rows[0]
    again = a[row].astype(np.float64) @ b.astype(np.float64, copy=False)
    with np.errstate(all="ignore"):
        off = np.abs(c[row].astype(np.float64) - again)
    column = int(np.argmax(np.where(np.isnan(off), np.inf, off)))
    where = f"row {row}, column {column}" + (f", and {len(rows) - 1} more rows" if len(rows) > 1 else "")
    expected, found = repr(float(again[column])), repr(float(c[row, column]))
    return Wrong(what="product of matrices", where=where, expected=expected, found=found)
