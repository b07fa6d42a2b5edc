"""Reads of 4 KiB at random places, many under way, each compared, with what a read took."""

from __future__ import annotations

import errno
import os
import threading
import time
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shipworthy.model.base import Value, values
from shipworthy.stress.loads import pattern_kernels
from shipworthy.stress.loads import ring_kernels as kernels
from shipworthy.stress.loads.ring import READ, Ring
from shipworthy.stress.loads.storage_faults import BLOCK_BYTES, Pattern
from shipworthy.stress.loads.storage_transfers import Buffers

DEPTH = 32
RETRIES_S = 0.001
PERCENTILES = (("p50", 0.5), ("p99", 0.99), ("p99_9", 0.999))


@dataclass
class Latencies:
    """How long reads took, in buckets an eighth of their value wide; the longest is exact."""

    buckets: Any = field(default_factory=lambda: np.zeros(kernels.BUCKETS, dtype=np.int64))
    longest_ns: int = 0

    def add(self, buckets: Any, longest_ns: int) -> None:
        self.buckets += buckets
        self.longest_ns = max(self.longest_ns, longest_ns)

    def at(self, share: float) -> float:
        """Return the latency in µs that this share of the reads did not exceed: the bucket's upper bound."""
        rank = share * int(self.buckets.sum())
        bucket = int(np.searchsorted(np.cumsum(self.buckets), rank))
        power, rest = divmod(bucket, kernels.SPLIT)
        upper_ns = (kernels.SPLIT + rest + 1) << power
        return min(upper_ns, self.longest_ns) / 1000

    def told(self) -> tuple[Value, ...]:
        if not self.buckets.any():
            return ()
        named = {f"latency_{name}_us": round(self.at(share), 1) for name, share in PERCENTILES}
        return values(**named, latency_max_us=round(self.longest_ns / 1000, 1))


@dataclass
class Found:
    """What a stretch of random reads came to. odd: offset, bytes read or minus an error, the block."""

    reads: int
    wrong: int
    refused: int
    odd: list[tuple[int, int, Any]]


class RandomReads:
    """A stretch at a time, over the first `size_bytes` of a file, by a ring or by threads."""

    def __init__(self, descriptor: int, size_bytes: int, seed: int) -> None:
        self._descriptor, self._blocks = descriptor, size_bytes // BLOCK_BYTES
        self._buffers = Buffers(DEPTH, BLOCK_BYTES)
        self._state = np.array([seed], dtype=np.uint64)
        self.latencies = Latencies()
        self.how = "io_uring"
        self._ring: Ring | None = None
        try:
            self._ring = Ring(descriptor, DEPTH)
        except OSError as error:
            self.how = f"{DEPTH} threads (io_uring: {error.strerror})"

    def read(self, until_s: float, made: Pattern, compare: bool = True) -> Found:
        """Read until a moment of the monotonic clock; compare each block unless told otherwise."""
        tally = np.zeros(6, dtype=np.int64)
        buckets = np.zeros(kernels.BUCKETS, dtype=np.int64)
        evidence = np.zeros((kernels.EVIDENCE, BLOCK_BYTES // 8), dtype=np.uint64)
        told = np.zeros((kernels.EVIDENCE, 2), dtype=np.int64)
        shape = np.array([made.seed, made.number, made.piece_bytes, READ], dtype=np.uint64)
        rest = (shape, compare, int(until_s * 1e9), buckets, tally, evidence, told)
        if self._ring is not None:
            self._by_ring(self._ring, rest)
        else:
            self._by_threads(rest)
        if compare:
            self.latencies.add(buckets, int(tally[kernels.LONGEST_NS]))
        kept = min(int(tally[kernels.WRONG] + tally[kernels.REFUSED]), kernels.EVIDENCE)
        odd = [(int(told[n, 0]) * BLOCK_BYTES, int(told[n, 1]), evidence[n]) for n in range(kept)]
        reads, wrong, refused = (int(tally[n]) for n in (kernels.READS, kernels.WRONG, kernels.REFUSED))
        return Found(reads, wrong, refused, odd)

    def shorten(self, size_bytes: int) -> None:
        """From now on only the first so many bytes are read."""
        self._blocks = size_bytes // BLOCK_BYTES

    def close(self) -> None:
        if self._ring is not None:
            self._ring.close()
        self._buffers.close()

    def _by_ring(self, ring: Ring, rest: tuple[Any, ...]) -> None:
        busy = np.full((DEPTH, 2), -1, dtype=np.int64)
        while kernels.random_reads(
            ring.words, self._buffers.words, busy, DEPTH, self._state, self._blocks, *rest
        ):
            if (why := ring.why_refused()) is not None:
                raise why
            time.sleep(RETRIES_S)

    def _by_threads(self, rest: tuple[Any, ...]) -> None:
        shape, compare, until_ns, buckets, tally, evidence, told = rest
        lock = threading.Lock()

        def work(slot: int) -> None:
            words, view = self._buffers.words[slot], self._buffers.views[slot]
            while (begun_ns := time.monotonic_ns()) < until_ns:
                with lock:
                    block = int(kernels.draw(self._state)) % self._blocks
                offset = block * BLOCK_BYTES
                try:
                    result = os.preadv(self._descriptor, [view], offset)
                except OSError as error:
                    result = -(error.errno or errno.EIO)
                latency_ns = time.monotonic_ns() - begun_ns
                piece = offset // int(shape[2]) * int(shape[2])
                wrong = 0
                if compare and result == BLOCK_BYTES:
                    key = pattern_kernels.key_of(shape[0], shape[1], np.uint64(piece))
                    first = np.uint64((offset - piece) // 8)
                    wrong = pattern_kernels.count_wrong(words, np.uint64(key), first)
                with lock:
                    buckets[kernels.bucket_of(latency_ns)] += 1
                    tally[kernels.LONGEST_NS] = max(tally[kernels.LONGEST_NS], latency_ns)
                    tally[kernels.READS] += 1
                    if wrong or result != BLOCK_BYTES:
                        kept = tally[kernels.WRONG] + tally[kernels.REFUSED]
                        if kept < kernels.EVIDENCE:
                            evidence[kept], told[kept] = words, (block, result)
                        tally[kernels.WRONG if result == BLOCK_BYTES else kernels.REFUSED] += 1

        threads = [threading.Thread(target=work, args=(slot,)) for slot in range(DEPTH)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
