"""Products of matrices: rounds that are alike on every core, and the bound of their proof."""

from __future__ import annotations

import math
import os

import msgspec
import numpy as np
import pytest

from shipworthy.machine.root import LIVE
from shipworthy.model.base import Trouble
from shipworthy.model.plan import LoadRequest
from shipworthy.stress.loads import matrix_library
from shipworthy.stress.loads.matrix import LOAD, VECTORS, residual_bound
from shipworthy.stress.loads.matrix_operands import BAND_SHARE, products_a_round
from shipworthy.stress.loads.matrix_size import (
    DEFAULT_SIZE,
    LADDER,
    SIZE_VARIABLE,
    size_for,
    size_for_block,
    size_for_memory,
)
from shipworthy.stress.protocol import BLOCK_S, Ground, Job
from tests.stress.matrix_works import answers, go_round, job, opened, pair

GIB = 2**30


@pytest.mark.parametrize("variant", ["float64", "float32"])
@pytest.mark.parametrize("size", [64, 201, 512, 1024])
def test_sound_products_stay_well_below_the_bound(size: int, variant: str) -> None:
    work = opened(size=size, variant=variant)
    for _ in range(8):
        assert work.block().wrong == 0
        work.proof.wrong_rows(work.a, work.b, work.c)
        residual = np.abs(work.proof.a_times_b_r - work.proof.c_times_r).max()
        assert 0 < residual < residual_bound(size, variant) / 4


def test_the_proof_works_on_the_products_that_numpy_computes() -> None:
    work = opened(size=200, variant="float32")
    assert work.proof.wrong_rows(work.a, work.b, work.c) == ()
    a, b, c = (matrix.astype(np.float64) for matrix in (work.a, work.b, work.c))
    assert work.proof.vectors.shape == (VECTORS, 200) and set(work.proof.vectors.flat) == {-1.0, 1.0}
    assert np.allclose(work.proof.a_times_b_r, (a @ (b @ work.proof.vectors.T)).T, rtol=1e-12, atol=1e-10)
    assert np.allclose(work.proof.c_times_r, (c @ work.proof.vectors.T).T, rtol=1e-12, atol=1e-10)


@pytest.mark.parametrize("variant", ["float64", "float32"])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_an_element_that_is_no_number_is_found(value: float, variant: str) -> None:
    work = opened(size=64, variant=variant)
    work.c[5, 9] = value
    right, wrong = work.prove()
    assert not right and wrong is not None
    assert (wrong.where, wrong.found) == ("row 5, column 9", repr(value))


def test_whole_wrong_rows_and_an_operand_that_changed_after_the_product_are_found() -> None:
    work = opened(size=128)
    work.c[7:10] += 1e-6
    _, wrong = work.prove()
    assert wrong is not None and wrong.where.startswith("row 7, ") and wrong.where.endswith("and 2 more rows")
    work.multiply()
    assert work.prove() == (True, None)
    work.a[3, 3] += 1e-6
    assert work.prove()[0] is False


def test_the_wrong_element_is_told_with_what_it_should_have_been() -> None:
    work = opened(size=128, variant="float32")
    right = float(work.c[11, 7])
    work.c[11, 7] += 1.0
    _, wrong = work.prove()
    assert wrong is not None and wrong.where == "row 11, column 7"
    assert float(str(wrong.found)) == float(work.c[11, 7])
    assert float(str(wrong.expected)) == pytest.approx(right, rel=1e-4)


def test_every_product_is_new_in_every_element_and_operands_are_replaced_in_sixteen() -> None:
    work = opened(0, 2, size=256)
    work.block()
    a, b = work.a.copy(), work.b.copy()
    for _ in range(BAND_SHARE):
        before = work.c.copy()
        work.block()
        assert (work.c != before).all()
    assert (work.a != a).all() and (work.b != b).all()


@pytest.mark.parametrize("variant", ["float64", "float32"])
@pytest.mark.parametrize("products", [1, 5])
def test_a_round_done_again_gives_the_same_answer_and_disturbs_nothing(variant: str, products: int) -> None:
    work, undisturbed = (opened(1, 2, products, size=100, variant=variant) for _ in range(2))
    given: list[str] = []
    for block in range(40 * products):
        done = work.block()
        assert done == msgspec.structs.replace(undisturbed.block(), seconds=done.seconds)
        given += [answer.digest for answer in done.answers]
        if given and block % 7 == 0:
            number = (block * 5) % len(given)
            again = work.again(number)
            assert again is not None and (again.round, again.digest) == (number, given[number])
    assert len(set(given)) == 40


def test_targets_get_the_same_answers_and_each_round_is_proven_by_one_of_them() -> None:
    works = pair(products=3, size=96)
    done = go_round(works, 12)
    one, other = answers(done["cpu:0"]), answers(done["cpu:1"])
    assert [a.digest for a in one] == [a.digest for a in other] and len(one) == 4
    assert [(a.round, a.proven) for a in one] == [(0, True), (1, False), (2, True), (3, False)]
    assert [a.proven for a in other] == [False, True, False, True]
    assert {a.kernel for a in one} == {a.kernel for a in other}
    assert sum(block.checks for block in done["cpu:0"]) == 6


def test_a_target_without_peers_does_each_product_twice_and_proves_one_of_them() -> None:
    work = opened(products=2, size=96)
    done = [work.block() for _ in range(8)]
    told = [(a.round, a.turn, a.proven) for a in answers(done)]
    assert told == [(0, 0, True), (0, 1, False), (1, 0, True), (1, 1, False)]
    assert [block.checks for block in done] == [1, 0] * 4
    first, second = answers(done)[:2]
    assert first.digest == second.digest


def test_other_sizes_kinds_of_number_and_seeds_give_other_answers() -> None:
    def first(**request: object) -> tuple[str, str]:
        (answer,) = opened(0, 2, **request).block().answers
        return answer.kernel, answer.digest

    some = [first(size=64), first(size=65), first(size=64, variant="float32")]
    assert len({kernel for kernel, _ in some}) == len({digest for _, digest in some}) == 3
    assert first(size=64) == first(size=64, variant="float64")


def test_the_kernel_names_library_and_core_where_the_library_tells_it() -> None:
    work = opened(size=64)
    assert f"numpy {np.__version__}" in work.kernel and work.kernel.endswith(", float64, 64")
    if "openblas" in work.kernel:
        core = matrix_library.core_text()
        assert core and core in work.kernel


def test_libraries_are_found_among_what_is_mapped() -> None:
    maps = (
        "7f00-7f01 r-xp 00000000 00:1f 12 /opt/some where/libopenblas64_.so\n"
        "7f01-7f02 rw-p 00000000 00:1f 12 /opt/some where/libopenblas64_.so\n"
        "7f02-7f03 rw-p 00000000 00:00 0 \n"
        "7f03-7f04 rw-p 00000000 00:00 0 [heap]\n"
        "7f04-7f05 r-xp 00000000 00:1f 13 /opt/libm.so\n"
    )
    assert matrix_library.loaded_libraries(maps, "blas") == ("/opt/some where/libopenblas64_.so",)
    assert matrix_library.loaded_libraries("", "blas") == ()


def test_the_bare_product_is_the_same_work_without_a_check() -> None:
    work = opened(size=128)
    bare = work.bare_block()
    assert (bare.work, bare.checks, bare.answers) == (work.block().work, 0, ())


def test_each_cpu_that_we_may_run_on_has_a_process_of_its_own_with_one_thread_and_one_size_for_all() -> None:
    targets = LOAD.targets(LoadRequest(load="matrix"), Ground(work_folders=("",)), LIVE)
    assert [t.cpus for t in targets] == [(cpu,) for cpu in sorted(os.sched_getaffinity(0))]
    told = [{v.name: v.value for v in t.environment} for t in targets]
    assert all(environment["OPENBLAS_NUM_THREADS"] == "1" for environment in told)
    (size,) = {environment[SIZE_VARIABLE] for environment in told}
    assert int(str(size)) in LADDER


@pytest.mark.parametrize(
    ("cores", "available", "size"),
    [(2, 16 * GIB, 2048), (128, 128 * GIB, 2048), (128, 32 * GIB, 1024), (4, GIB // 4, 512), (64, 0, 256)],
)
def test_all_cores_together_stay_below_a_quarter_of_the_memory(cores: int, available: int, size: int) -> None:
    assert size_for_memory(cores, available) == size
    assert size == LADDER[-1] or cores * 3 * 8 * size**2 < available / 4


def short(block_s: float) -> Job:
    return msgspec.structs.replace(job(0, 2), block_s=block_s)


@pytest.mark.parametrize(("block_s", "size"), [(0.4, 2048), (0.1, 1024), (0.0125, 512), (0.002, 256)])
def test_short_blocks_take_smaller_matrices(
    block_s: float, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(SIZE_VARIABLE, "2048")
    assert size_for(short(block_s)) == size_for_block(block_s) == size
    monkeypatch.setenv(SIZE_VARIABLE, "256")
    assert size_for(short(block_s)) == 256


def test_a_size_that_the_plan_names_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SIZE_VARIABLE, "256")
    assert size_for(job(size=4096)) == 4096
    monkeypatch.setenv(SIZE_VARIABLE, "4096")
    assert size_for(job()) == DEFAULT_SIZE and size_for_block(BLOCK_S) == DEFAULT_SIZE


def test_small_products_are_gathered_into_rounds_of_about_a_tenth_of_a_second() -> None:
    rounds = {size: products_a_round(size) for size in (64, 256, 512, 1024, 2048, 4096)}
    assert rounds == {64: 1024, 256: 149, 512: 18, 1024: 2, 2048: 1, 4096: 1}


@pytest.mark.parametrize(
    ("request_", "match"),
    [
        (LoadRequest(load="matrix", size=5), "cannot have the size 5"),
        (LoadRequest(load="matrix", size=9000), "cannot have the size 9000"),
        (LoadRequest(load="matrix", variant="float16"), "no variant 'float16'"),
    ],
)
def test_a_request_that_makes_no_sense_is_refused(request_: LoadRequest, match: str) -> None:
    with pytest.raises(Trouble, match=match):
        LOAD.check(request_)
