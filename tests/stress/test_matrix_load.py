"""Products of matrices: fresh operands, and flips planted in the product under test."""

from __future__ import annotations

import math
import os
import random
import struct
from pathlib import Path

import numpy as np
import pytest

from shipworthy.machine.root import LIVE
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads.matrix import BAND_SHARE, LOAD, MatrixWork, residual_bound
from shipworthy.stress.protocol import Ground
from tests.stress.small_burn_ins import job_for


def opened(size: int) -> MatrixWork:
    return LOAD.open(job_for("matrix", Path(), size=size))


def flip(work: MatrixWork, row: int, column: int, bit: int) -> float:
    """Flip one bit of the product, and return by how much the element is off."""
    (word,) = struct.unpack("<Q", struct.pack("<d", work.c[row, column]))
    before = float(work.c[row, column])
    work.c[row, column] = struct.unpack("<d", struct.pack("<Q", word ^ 1 << bit))[0]
    return abs(float(work.c[row, column]) - before)


@pytest.mark.parametrize("size", [64, 200, 512, 1024])
def test_sound_products_stay_well_below_the_bound(size: int) -> None:
    work, signs = opened(size), np.random.default_rng(3)
    for _ in range(6):
        work.renew()
        work.multiply()
        vectors = signs.integers(0, 2, (size, 8)) * 2.0 - 1.0
        residual = np.abs(work.a @ (work.b @ vectors) - work.c @ vectors).max()
        assert 0 < residual < residual_bound(size) / 2
        assert work.check() is None


def test_every_flipped_bit_above_the_bound_is_found_at_its_place() -> None:
    work, draw, found = opened(256), random.Random("3/matrix/flips"), 0
    while found < 60:
        work.renew()
        work.multiply()
        row, column, bit = draw.randrange(256), draw.randrange(256), draw.randrange(64)
        off = flip(work, row, column, bit)
        wrong = work.check()
        if off > 2 * residual_bound(256) or not math.isfinite(off):
            assert wrong is not None, (row, column, bit, off)
            assert wrong.where == f"row {row}, column {column}"
            found += 1


def test_only_the_low_bits_of_an_element_escape_and_they_are_few() -> None:
    work, draw, missed = opened(512), random.Random("3/matrix/low bits"), []
    work.multiply()
    for _ in range(400):
        row, column, bit = draw.randrange(512), draw.randrange(512), draw.randrange(64)
        kept = float(work.c[row, column])
        off = flip(work, row, column, bit)
        if work.check() is None:
            missed.append((bit, off))
        work.c[row, column] = kept
    assert all(off <= 2 * residual_bound(512) for _, off in missed)
    assert 0.1 < len(missed) / 400 < 0.3  # the share that About.slips_through tells


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_an_element_that_is_no_number_is_found(value: float) -> None:
    work = opened(64)
    work.c[5, 9] = value
    wrong = work.check()
    assert wrong is not None and wrong.where == "row 5, column 9"


def test_a_whole_wrong_row_and_a_wrong_operand_in_flight_are_found() -> None:
    work = opened(128)
    work.c[7] += 1e-6
    assert work.check() is not None
    work.multiply()
    assert work.check() is None
    work.a[3, 3] += 1e-6  # the operand changed after it was multiplied
    assert work.check() is not None


def test_every_product_is_new_in_every_element_and_operands_are_replaced_in_sixteen() -> None:
    work = opened(256)
    a, b = work.a.copy(), work.b.copy()
    for _ in range(BAND_SHARE):
        before = work.c.copy()
        work.block()
        assert (work.c != before).all()
    assert (work.a != a).all() and (work.b != b).all()


def test_the_same_seed_and_purpose_give_the_same_products() -> None:
    one, other = opened(128), opened(128)
    for work in (one, other):
        work.block()
    assert (one.c == other.c).all()


def test_the_bare_product_is_the_same_work_without_a_check() -> None:
    work = opened(128)
    bare = work.bare_block()
    assert (bare.work, bare.checks) == (work.block().work, 0)


def test_each_cpu_that_we_may_run_on_has_a_process_of_its_own_with_one_thread() -> None:
    targets = LOAD.targets(LoadRequest(load="matrix"), Ground(work_folders=("",)), LIVE)
    assert [t.cpus for t in targets] == [(cpu,) for cpu in sorted(os.sched_getaffinity(0))]
    assert all({v.name: v.value for v in t.environment}["OPENBLAS_NUM_THREADS"] == "1" for t in targets)


def test_a_size_that_makes_no_sense_is_refused() -> None:
    with pytest.raises(Trouble, match="cannot have the size 5"):
        LOAD.check(LoadRequest(load="matrix", size=5))
