"""The proof's products of a matrix with four vectors, compiled: the matrix is read once for all four.

A library's product of a large matrix with a few columns runs far below the speed of memory, and one in
float32 would have to be copied to float64 first. Sums may be regrouped (they are vectorised), but nothing is
assumed about infinities and values that are no number: a wrong element may be one.
"""

# ruff: noqa: I001
# mypy: disable-error-code="no-untyped-call,untyped-decorator,no-untyped-def,unused-ignore"
from __future__ import annotations

from shipworthy.stress.loads.compiled import CACHED  # before numba

from numba import float64, njit

VECTORS = 4
_SIGNATURES = [
    "void(float64[:, ::1], float64[:, ::1], float64[:, ::1])",
    "void(float32[:, ::1], float64[:, ::1], float64[:, ::1])",
]


@njit(_SIGNATURES, nogil=True, cache=CACHED, fastmath={"reassoc", "contract", "nsz"})
def times_four(matrix, vectors, products):
    """Write matrix · vector to each of the four rows of `products`, summed in float64."""
    for row in range(matrix.shape[0]):
        sum_0 = sum_1 = sum_2 = sum_3 = 0.0
        for column in range(matrix.shape[1]):
            element = float64(matrix[row, column])
            sum_0 += element * vectors[0, column]
            sum_1 += element * vectors[1, column]
            sum_2 += element * vectors[2, column]
            sum_3 += element * vectors[3, column]
        products[0, row], products[1, row] = sum_0, sum_1
        products[2, row], products[3, row] = sum_2, sum_3
