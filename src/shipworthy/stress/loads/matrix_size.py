"""How large the matrices are. All cores must choose alike, or their answers could not be compared.

So the size follows from the request, the length of a block and the memory that is available when the
targets are listed, once for all of them; it is not measured by each core for itself.
"""

from __future__ import annotations

import os

from shipworthy.stress import resources
from shipworthy.stress.protocol import BLOCK_S, Job

DEFAULT_SIZE = 2048
SIZE_LEAST, SIZE_MOST = 64, 8192
LADDER = (4096, 2048, 1024, 512, 256)
MATRICES, ELEMENT_BYTES = 3, 8
MEMORY_SHARE = 0.25  # of the available memory, for all cores together
CORE_RATE = 50e9
"""Operations a second that a current core does in float64 (two 256-bit multiply-adds a cycle at 3.1 GHz);
measured here on one core: 52e9. A slower core takes longer over a block than a short pulse would have it."""
SIZE_VARIABLE = "SHIPWORTHY_MATRIX_SIZE"


def size_for_memory(cores: int, available_bytes: int, most: int = DEFAULT_SIZE) -> int:
    """Return the largest size of the ladder, up to `most`, with which all cores stay below their share."""
    each_bytes = MEMORY_SHARE * available_bytes / max(1, cores)
    fitting = (n for n in LADDER if n <= most and MATRICES * ELEMENT_BYTES * n**2 < each_bytes)
    return next(fitting, LADDER[-1])


def size_for_block(block_s: float) -> int:
    """Return the largest size of the ladder whose product a core finishes in that time."""
    if block_s >= BLOCK_S:
        return DEFAULT_SIZE
    return next((n for n in LADDER if 2.0 * n**3 <= CORE_RATE * block_s), LADDER[-1])


def size_for(job: Job) -> int:
    """Return the size that the job's request names, or the one that fits its memory and its blocks."""
    if job.request.size:
        return job.request.size
    told = os.environ.get(SIZE_VARIABLE, "")
    by_memory = (
        int(told) if told.isdigit() else size_for_memory(job.peers, resources.available_memory_bytes())
    )
    return max(LADDER[-1], min(by_memory, size_for_block(job.block_s), DEFAULT_SIZE))
