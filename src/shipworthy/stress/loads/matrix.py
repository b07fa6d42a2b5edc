"""Products of matrices in float64 on every core, each proven by Freivalds' check.

R. Freivalds, "Probabilistic machines can use less running time", 1977: C = A·B is tested by comparing
A·(B·r) with C·r for a random vector r, in O(n²); here r is of ±1, and the bound is `residual_bound`.
"""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING, Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.streams import seed_of
from shipworthy.stress.protocol import PROTOCOL, About, Answer, Block, Ground, Job, Note, Target, Wrong

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Matrix = NDArray[np.float64]

DEFAULT_SIZE = 2048
SIZE_LEAST, SIZE_MOST = 64, 8192
VECTORS = 4
BAND_SHARE = 16  # a sixteenth of both operands is new in every product; all of C depends on it
EPSILON = 2.0**-52  # spacing of float64 at 1 (IEEE 754 binary64)
BOUND_FACTOR = 2.0
THREAD_VARIABLES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS")


def residual_bound(size: int) -> float:
    """Return the largest |A·(B·r) − C·r| that rounding may make, for operands in [−1, 1) and r of ±1.

    Rounding errors behave as independent and add up like a random walk (Higham and Mary, "A new approach
    to probabilistic rounding error analysis", SIAM J. Sci. Comput. 41(5), 2019). Summed one by one, an
    element of C is off by ε·n/√216 (one standard deviation: partial sums of k terms have the variance k/9,
    each addition rounds by ε/√12 of that), n of them by √n times as much; A·(B·r) is off by as much again
    for B·r and for A: 0.118·ε·n^1.5 together. The bound is 17 of these; libraries that sum in blocks stay
    lower.
    """
    return BOUND_FACTOR * EPSILON * size * math.sqrt(size)


class MatrixWork:
    """One process: fresh operands, a product, its check; again and again."""

    def __init__(self, job: Job) -> None:
        import numpy as np

        self._np = np
        self.size = job.request.size or DEFAULT_SIZE
        self._random = np.random.Generator(np.random.SFC64(seed_of(job.purpose)))
        self.a: Matrix = self._uniform((self.size, self.size))
        self.b: Matrix = self._uniform((self.size, self.size))
        self.c: Matrix = np.zeros((self.size, self.size))
        self._band = max(1, self.size // BAND_SHARE)
        self._next = 0
        self.multiply()  # the first product pays for page faults and caches; it is not counted

    @property
    def operations(self) -> float:
        """Floating-point operations of one product."""
        return 2.0 * self.size**3

    def block(self) -> Block:
        began_s = time.perf_counter()
        self.renew()
        self.multiply()
        wrong = self.check()
        seconds = time.perf_counter() - began_s
        return Block(
            work=self.operations, seconds=seconds, checks=1, wrong=int(wrong is not None), shown=_shown(wrong)
        )

    def bare_block(self) -> Block:
        began_s = time.perf_counter()
        self._np.matmul(self.a, self.b, out=self.c)
        return Block(work=self.operations, seconds=time.perf_counter() - began_s)

    def renew(self) -> None:
        """Replace a band of columns of A and the same rows of B: every element of C depends on it."""
        low, high = self._next, min(self._next + self._band, self.size)
        self.a[:, low:high] = self._uniform((self.size, high - low))
        self.b[low:high] = self._uniform((high - low, self.size))
        self._next = high % self.size

    def multiply(self) -> None:
        """Compute the product under test."""
        self._np.matmul(self.a, self.b, out=self.c)

    def check(self) -> Wrong | None:
        """Return what is wrong with the product; None if it is right within the bound."""
        np = self._np
        signs: Any = self._random.integers(0, 2, (self.size, VECTORS)) * 2.0 - 1.0
        with np.errstate(all="ignore"):  # a wrong element may be infinite or no number
            residual = np.abs(self.a @ (self.b @ signs) - self.c @ signs).max(axis=1)
            right = residual <= residual_bound(self.size)
        if right.all():
            return None
        return self._locate(int(np.flatnonzero(~right)[0]), int((~right).sum()))

    def again(self, number: int) -> Answer | None:
        return None

    def detail(self) -> tuple[Value, ...]:
        bound = residual_bound(self.size)
        return values(size=self.size, vectors=VECTORS, residual_bound=bound, **_library(self._np))

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        self.a = self.b = self.c = self._np.zeros((0, 0))

    def _locate(self, row: int, rows: int) -> Wrong:
        """Compute the first wrong row once more, to tell the element and what it should have been."""
        np = self._np
        again = self.a[row] @ self.b
        with np.errstate(all="ignore"):
            off = np.abs(self.c[row] - again)
        column = int(np.argmax(np.where(np.isnan(off), np.inf, off)))
        where = f"row {row}, column {column}" + (f", and {rows - 1} more rows" if rows > 1 else "")
        expected, found = float(again[column]), float(self.c[row, column])
        return Wrong(what="product of matrices", where=where, expected=repr(expected), found=repr(found))

    def _uniform(self, shape: tuple[int, int]) -> Matrix:
        drawn = self._random.random(shape)
        drawn *= 2.0
        drawn -= 1.0
        return drawn


class MatrixLoad:
    protocol = PROTOCOL
    name = "matrix"
    about = About(
        stresses="every core's floating-point units, and its caches",
        verifies="every product, by Freivalds' check with 4 vectors of ±1",
        slips_through=(
            "a single wrong element above the bound is always found; errors of several elements in a row "
            "that cancel slip through at most once in 16; below the bound (the low bits of an element, about "
            "one flipped bit in four) nothing is seen"
        ),
        unit_of_work="floating-point operations",
        limit="the same library's bare product of the same size, in the same process, between the others",
        power="the most that floating-point code draws on these cores",
        cleans_up="leaves nothing",
    )

    def check(self, request: LoadRequest) -> None:
        if request.size and not SIZE_LEAST <= request.size <= SIZE_MOST:
            what = f"the load matrix cannot have the size {request.size}"
            raise Trouble(what, "burn-in plan", f"Sizes are {SIZE_LEAST} to {SIZE_MOST}.")

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        """Return a process for each CPU that we may run on, pinned, its library held to one thread."""
        one_thread = values(**dict.fromkeys(THREAD_VARIABLES, "1"))
        return tuple(
            Target(name=f"cpu:{cpu}", cpus=(cpu,), environment=one_thread) for cpu in resources.usable_cpus()
        )

    def open(self, job: Job) -> MatrixWork:
        return MatrixWork(job)


def _shown(wrong: Wrong | None) -> tuple[Wrong, ...]:
    return () if wrong is None else (wrong,)


def _library(np: Any) -> dict[str, str]:
    """Return which library multiplies: results and rates depend on it."""
    configuration = np.show_config(mode="dicts")
    blas = configuration.get("Build Dependencies", {}).get("blas", {})
    return {"library": f"numpy {np.__version__}, {blas.get('name', '')} {blas.get('version', '')}".strip()}


LOAD = MatrixLoad()
