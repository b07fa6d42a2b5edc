"""Exchange between cores: lines of the caches that all cores write, by atomic operations and side by side."""

from __future__ import annotations

import os
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from shipworthy.machine.root import Root
from shipworthy.model.base import Value, values
from shipworthy.model.plan import LoadRequest
from shipworthy.stress import resources
from shipworthy.stress.loads.rounds import MASK, SHOWN_MOST, Checked, check_request, mixed
from shipworthy.stress.loads.streams import seed_of
from shipworthy.stress.protocol import PROTOCOL, About, Answer, Block, Ground, Job, Note, Target, Wrong

USUAL_SIZE = 1024  # of each kind of exchange, for each thread, in a round
SIZE_LEAST, SIZE_MOST = 16, 1 << 20
TARGET = "cpus"
OWN_WORDS = 16  # two lines: hardware fetches them in pairs
WORD_BYTES, LINE_WORDS = 8, 8
FIRST_HOLDER = 1


class ExchangeWork:
    """A pinned thread on each CPU. A round: tickets from one counter, messages under one lock, words in one
    line. Numbers begin anew with each round, and the message goes on from one round to the next."""

    def __init__(self, job: Job) -> None:
        import numpy as np

        from shipworthy.stress.loads import exchange_kernels as kernels

        self._np, self._kernels, self._job = np, kernels, job
        self.cpus = resources.usable_cpus()
        self.count = job.request.size or USUAL_SIZE
        self._seed = seed_of(job.purpose)
        self.words = self._aligned(kernels.BESIDE + len(self.cpus) + LINE_WORDS)
        self.own = self._aligned(len(self.cpus) * OWN_WORDS).reshape(len(self.cpus), OWN_WORDS)
        self._notes = np.zeros((len(self.cpus), SHOWN_MOST, 4), dtype=np.uint64)
        self._round = self._last = self.handed_over = self.changes = 0
        self._first_message()
        self._pools = [ThreadPoolExecutor(1, initializer=_pin, initargs=(cpu,)) for cpu in self.cpus]

    @property
    def exchanges_of_a_round(self) -> float:
        return 3.0 * self.count * len(self.cpus)

    def block(self) -> Block:
        began_s = time.perf_counter()
        until_s, checked, done = began_s + self._job.block_s, Checked(), 0
        while not done or time.perf_counter() < until_s:
            wrong = self.compute(verify=True)
            checked += self.check(wrong)
            done += 1
        return Block(
            work=done * self.exchanges_of_a_round,
            seconds=time.perf_counter() - began_s,
            checks=checked.checks,
            wrong=checked.wrong,
            shown=checked.shown,
        )

    def bare_block(self) -> Block | None:
        began_s = time.perf_counter()
        until_s, done = began_s + self._job.block_s / 4, 0
        while not done or time.perf_counter() < until_s:
            self.compute(verify=False)
            done += 1
        return Block(work=done * self.exchanges_of_a_round, seconds=time.perf_counter() - began_s)

    def compute(self, verify: bool) -> list[int]:
        """Do a round; return how many words of messages each thread found wrong."""
        self._round += 1
        self.words[self._kernels.COUNTER] = self.first_ticket
        self.words[self._kernels.MET] = 0
        self._last += self.count * len(self.cpus)
        self.words[self._kernels.BESIDE :] = self.first_ticket
        pairs = enumerate(self._pools)
        return [task.result() for task in [pool.submit(self._thread, n, verify) for n, pool in pairs]]

    def check(self, wrong: list[int]) -> Checked:
        """Compare the totals, and take in what the threads found wrong in messages."""
        handed_over = self.count * len(self.cpus)
        self.handed_over += handed_over
        self.changes += int(self.own[:, 2].sum())
        shown = tuple(
            self._wrong_message(n, note)
            for n, many in enumerate(wrong)
            for note in self._notes[n, : min(many, SHOWN_MOST)].tolist()
        )
        messages = Checked(handed_over * self._kernels.PAYLOAD_WORDS, sum(wrong), shown[:SHOWN_MOST])
        return messages + self._check_totals()

    @property
    def first_ticket(self) -> int:
        """Another one in each round, so that carries go through all bits."""
        return mixed(self._seed, self._round)

    def again(self, number: int) -> Answer | None:
        return None

    def detail(self) -> tuple[Value, ...]:
        share = self.changes / self.handed_over if self.handed_over else 0.0
        return values(threads=len(self.cpus), from_another_core_ratio=round(share, 1))

    def notes(self) -> tuple[Note, ...]:
        return ()

    def close(self) -> None:
        for pool in self._pools:
            pool.shutdown()

    def _thread(self, n: int, verify: bool) -> int:
        kernels, u64, own, threads = self._kernels, self._np.uint64, self.own[n], len(self.cpus)
        kernels.meet(self.words, u64(threads))
        kernels.draw_tickets(self.words, own, self.count, verify)
        kernels.meet(self.words, u64(2 * threads))
        seed, last, me = u64(self._seed), u64(self._last), u64(n + FIRST_HOLDER)
        wrong = kernels.hand_over(self.words, seed, last, me, verify, self._notes[n], own)
        kernels.meet(self.words, u64(3 * threads))
        kernels.write_beside(self.words, u64(kernels.BESIDE + n), self.count)
        return int(wrong)

    def _first_message(self) -> None:
        for place in range(self._kernels.PAYLOAD_WORDS):
            at = self._kernels.PAYLOAD + place * LINE_WORDS
            self.words[at] = self._kernels.payload_word(self._np.uint64(self._seed), self._np.uint64(place))

    def _check_totals(self) -> Checked:
        """Every ticket was drawn once: their sum and the sum of their squares tell, modulo 2^64."""
        kernels, first, drawn = self._kernels, self.first_ticket, self.count * len(self.cpus)
        below = drawn * (drawn - 1) // 2
        squares = drawn * first * first + 2 * first * below + below * (2 * drawn - 1) // 3
        found = [int(self.words[kernels.COUNTER]), *(sum(self.own[:, which].tolist()) for which in (0, 1))]
        expected = [first + drawn, drawn * first + below, squares]
        names = ["counter", "sum of tickets", "sum of their squares"]
        found += self.words[kernels.BESIDE : kernels.BESIDE + len(self.cpus)].tolist()
        expected += [first + self.count] * len(self.cpus)
        names += [f"word that only cpu:{cpu} wrote" for cpu in self.cpus]
        shown = tuple(
            Wrong(
                what="exchange between cores",
                where=f"{name}, round {self._round}",
                expected=f"0x{want & MASK:016x}",
                found=f"0x{had & MASK:016x}",
            )
            for name, want, had in zip(names, expected, found, strict=True)
            if (want ^ had) & MASK
        )
        return Checked(len(found), len(shown), shown[:SHOWN_MOST])

    def _wrong_message(self, n: int, note: list[int]) -> Wrong:
        number, place, found, before = note
        u64 = self._np.uint64
        at = u64((number * self._kernels.PAYLOAD_WORDS + place) & MASK)
        expected = int(self._kernels.payload_word(u64(self._seed), at))
        writer = f"cpu:{self.cpus[before - FIRST_HOLDER]}" if 0 < before <= len(self.cpus) else "nobody"
        return Wrong(
            what="message between cores",
            where=f"message {number}, word {place}, written by {writer}, read by cpu:{self.cpus[n]}",
            expected=f"0x{expected:016x}",
            found=f"0x{found:016x}",
        )

    def _aligned(self, size: int) -> Any:
        room = self._np.zeros(size + LINE_WORDS, dtype=self._np.uint64)
        begin = -room.ctypes.data % (LINE_WORDS * WORD_BYTES) // WORD_BYTES
        return room[begin : begin + size]


class ExchangeLoad:
    protocol = PROTOCOL
    name = "exchange"
    about = About(
        stresses="the coherence of the caches: lines that all cores write, and the paths between cores",
        verifies=(
            "that every ticket of one counter was drawn once; every word of every message that one core left "
            "for the next; every word that stands in a line beside those of other cores"
        ),
        slips_through=(
            "a lost or doubled ticket, a torn or late message and a lost word are always found, unless "
            "several wrong tickets leave their sum and the sum of their squares as they are; which cores "
            "meet is the machine's choice; an order of writes that only other programs would notice is not "
            "looked at"
        ),
        unit_of_work="exchanges",
        limit="the same exchanges with nothing compared, by the same threads, between the others",
        power="little: cores wait for one another most of the time",
        cleans_up="ends its threads; leaves nothing",
    )

    def check(self, request: LoadRequest) -> None:
        check_request(request, (SIZE_LEAST, SIZE_MOST))

    def targets(self, request: LoadRequest, ground: Ground, root: Root) -> tuple[Target, ...]:
        """Return one process with a thread on each CPU; none where there is only one: with whom?"""
        cpus = resources.usable_cpus()
        return (Target(name=TARGET, cpus=cpus),) if len(cpus) > 1 else ()

    def open(self, job: Job) -> ExchangeWork:
        return ExchangeWork(job)


def _pin(cpu: int) -> None:
    os.sched_setaffinity(threading.get_native_id(), {cpu})


LOAD = ExchangeLoad()
