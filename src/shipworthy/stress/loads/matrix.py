"""Products of matrices on every core: the same ones on all, compared bit for bit, each proven on one of them.

A repeated product is bit-identical where the library chose the same code, so a digest of all of C tells
cores apart that differ in a single low bit; the proof (matrix_proof.py) tells a fault that all of them share.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.digest_chain import Chain
from shipworthy.stress.loads.matrix_operands import BAND_SHARE, Operands, products_a_round
from shipworthy.stress.loads.matrix_proof import (
    BOUND_FACTOR,
    REPEATS,
    VECTORS,
    Proof,
    located,
    residual_bound,
)
from shipworthy.stress.loads.matrix_size import (
    DEFAULT_SIZE,
    SIZE_LEAST,
    SIZE_MOST,
    SIZE_VARIABLE,
    size_for,
    size_for_memory,
)
from shipworthy.stress.loads.streams import seed_of
from shipworthy.stress.protocol import PROTOCOL, About, Answer, Block, Ground, Job, Note, Target, Wrong

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Matrix = NDArray[Any]

__all__ = [
    "BAND_SHARE",
    "BOUND_FACTOR",
    "DEFAULT_SIZE",
    "LOAD",
    "SIZE_LEAST",
    "SIZE_MOST",
    "VECTORS",
    "MatrixLoad",
    "MatrixWork",
    "residual_bound",
]

VARIANTS = ("float64", "float32")
THREAD_VARIABLES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS")
PRODUCT = "product of matrices"
CHECK = "the check of a product, not the product"


class MatrixWork:
    """One process. A block is one product: its operands, itself, its digest, and on one target its proof.

    A round is a fixed number of products, and its answer the digest of all of them. A target without peers
    does every product twice in time, and proves the first.
    """

    def __init__(self, job: Job, products: int | None = None) -> None:
        import numpy as np

        from shipworthy.stress.loads.digest_kernels import digest
        from shipworthy.stress.loads.matrix_library import library_and_core

        self._np, self._digest_words, self._job = np, digest, job
        self.size, self.variant = size_for(job), job.request.variant or VARIANTS[0]
        self.products = products or products_a_round(self.size)
        self.operands = Operands(self.size, self.variant, f"{job.shared_purpose}/{self.variant}/{self.size}")
        item_bytes = np.dtype(self.variant).itemsize
        self._words = np.zeros(-(-(self.size**2) * item_bytes // 8), dtype=np.uint64)
        elements = self._words.view(self.variant)[: self.size**2]
        self.c: Matrix = elements.reshape(self.size, self.size)
        self.proof = Proof(self.size, self.variant, seed_of(f"{job.purpose}/vectors"))
        self._library = library_and_core(np)
        self.kernel = f"{self._library}, {self.variant}, {self.size}"
        self._turns = 2 if job.peers == 1 else 1
        self._product, self._turn = 0, 0
        self.chains = [Chain() for _ in range(self._turns)]
        self.kept = 0  # the digest of the product at hand, until it is confirmed
        self._found_again: list[Wrong] = []  # in rounds done again: reported with the next block
        self.overhead_s = self.all_s = 0.0  # processor time: what was no product, and all
        self.multiply()  # the first product pays for page faults and caches; it is not counted

    @property
    def a(self) -> Matrix:
        return self.operands.a

    @property
    def b(self) -> Matrix:
        return self.operands.b

    @property
    def operations(self) -> float:
        """Floating-point operations of one product."""
        return 2.0 * self.size**3

    @property
    def round(self) -> int:
        return self._product // self.products

    def block(self) -> Block:
        """Do the next product, or the product at hand for the second time."""
        began_s, began_cpu_s = time.perf_counter(), time.thread_time()
        self._change_operands()
        changed_cpu_s = time.thread_time()
        self.multiply()
        multiplied_cpu_s = time.thread_time()
        proves = self._proves()
        wrong = (*self._found_again, *self._check(self.chains[self._turn], proves))
        self._found_again.clear()
        answers = self._go_on()
        seconds, all_s = time.perf_counter() - began_s, time.thread_time() - began_cpu_s
        self.all_s += all_s
        self.overhead_s += all_s - (multiplied_cpu_s - changed_cpu_s)
        return Block(
            work=self.operations,
            seconds=seconds,
            checks=int(proves),
            wrong=len(wrong),
            shown=wrong,
            answers=answers,
        )

    def bare_block(self) -> Block:
        began_s = time.perf_counter()
        self._np.matmul(self.a, self.b, out=self.c)
        return Block(work=self.operations, seconds=time.perf_counter() - began_s)

    def again(self, number: int) -> Answer | None:
        """Do a round once more, its operands made anew; the round at hand goes on afterwards."""
        chain = Chain()
        for product in range(number * self.products, (number + 1) * self.products):
            if product == number * self.products:
                self.operands.rebuild(product)
            else:
                self.operands.renew(product)
            self.multiply()
            self._found_again += self._check(chain, True)
        self.operands.rebuild(self._product)
        return self._answer(number, chain)

    def multiply(self) -> None:
        """Compute the product under test."""
        self._np.matmul(self.a, self.b, out=self.c)

    def digest(self, start: int) -> int:
        """Return the digest of the whole product, which goes on from that of the products before it."""
        return int(self._digest_words(self._words, self._np.uint64(start)))

    def prove(self) -> tuple[bool, Wrong | None]:
        """Return whether the product is right within the bound, and what was wrong: that, or the check."""
        rows = self.proof.wrong_rows(self.a, self.b, self.c)
        if not rows:
            return True, None
        for _ in range(REPEATS):
            rows = self.proof.wrong_rows(self.a, self.b, self.c)
            if rows:
                return False, located(self.a, self.b, self.c, rows)
        where = f"a proof failed once, and passed {REPEATS} times with fresh vectors"
        return True, Wrong(what=CHECK, where=where)

    def detail(self) -> tuple[Value, ...]:
        return values(
            size=self.size,
            variant=self.variant,
            vectors=VECTORS,
            residual_bound=self.proof.bound,
            products_a_round=self.products,
            library=self._library,
        )

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        self.operands.a = self.operands.b = self.c = self._np.zeros((0, 0))
        self._words = self._np.zeros(0, dtype=self._np.uint64)

    def _proves(self) -> bool:
        return self._turn == 0 and self._job.number == self.round % self._job.peers

    def _change_operands(self) -> None:
        if self._turn:
            self.operands.remake_oldest(self._product)
        else:
            self.operands.renew(self._product)

    def _check(self, chain: Chain, proves: bool) -> tuple[Wrong, ...]:
        """Digest the product, prove it if that is asked, and confirm what was kept; return what was wrong."""
        wrong: list[Wrong | None] = []
        if chain.broken():
            wrong.append(Wrong(what=CHECK, where="the digest kept from the products before it changed"))
            chain.spoilt = True
        start = chain.value
        self.kept = self.digest(start)
        proven = False
        if proves:
            proven, found = self.prove()
            wrong.append(found)
        chain.proven &= proven
        wrong.append(self._confirm(start))
        chain.keep(self.kept)
        return tuple(one for one in wrong if one is not None)

    def _confirm(self, start: int) -> Wrong | None:
        """Digest once more. If that differs from what was kept, the product is made again to tell why."""
        second = self.digest(start)
        if second == self.kept:
            return None
        kept = self.kept
        self.multiply()
        self.kept = self.digest(start)
        if self.kept == second:
            return Wrong(what=CHECK, where="its digest was not kept as it was made")
        if self.kept == kept:
            return Wrong(what=PRODUCT, where="it changed in memory after it was made, or was read wrongly")
        return Wrong(what=PRODUCT, where="it was another one when it was made again")

    def _go_on(self) -> tuple[Answer, ...]:
        """Step to the next turn or product; return the answers of a round that is complete."""
        number = self.round
        self._turn = (self._turn + 1) % self._turns
        self._product += self._turn == 0
        if self.round == number:
            return ()
        done, self.chains = self.chains, [Chain() for _ in range(self._turns)]
        whole = (pair for pair in enumerate(done) if not pair[1].spoilt)  # what a spoilt one held is lost
        return tuple(self._answer(number, chain, turn) for turn, chain in whole)

    def _answer(self, number: int, chain: Chain, turn: int = 0) -> Answer:
        digest = f"{chain.value:016x}"
        return Answer(round=number, digest=digest, kernel=self.kernel, proven=chain.proven, turn=turn)


class MatrixLoad:
    protocol = PROTOCOL
    name = "matrix"
    about = About(
        stresses="every core's floating-point units, and its caches",
        verifies=(
            "every product on every core, bit by bit against the other cores' (a single core does each "
            "twice), and on one core by Freivalds' check with 4 vectors of ±1"
        ),
        slips_through=(
            "a wrong bit on one core of several is always found, but for a digest that is equal by chance, "
            "once in 2^64; a core alone sees it if it does not err twice alike, or by the proof; the same "
            "wrong bit on all cores at once is found by the proof if it is above its bound, "
            "and not in the low bits of an element (about one flipped bit in four; in float32 two in five); "
            "errors of several elements in a row that cancel pass the proof at most once in 16"
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
        if request.variant not in ("", *VARIANTS):
            what = f"the load matrix has no variant {request.variant!r}"
            raise Trouble(what, "burn-in plan", f"Variants are {' and '.join(VARIANTS)}.")

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        """Return a process for each CPU that we may run on, pinned, its library held to one thread."""
        cpus = resources.usable_cpus()
        size = size_for_memory(len(cpus), resources.available_memory_bytes())
        told = values(**dict.fromkeys(THREAD_VARIABLES, "1"), **{SIZE_VARIABLE: str(size)})
        return tuple(Target(name=f"cpu:{cpu}", cpus=(cpu,), environment=told) for cpu in cpus)

    def open(self, job: Job) -> MatrixWork:
        return MatrixWork(job)


LOAD = MatrixLoad()
