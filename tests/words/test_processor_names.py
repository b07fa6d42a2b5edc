"""Names of processors, and counts of their cores: every suffix counts, what stands behind does not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.words.core_counts import CoreCounts, find_core_counts
from shipworthy.words.likeness import Likeness
from shipworthy.words.processor_names import is_sample, processor_likeness, processor_name, tells_no_model

SAME, OTHER, PARTLY = Likeness.SAME, Likeness.OTHER, Likeness.PARTLY


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Intel(R) Core(TM) i5-12400F CPU @ 2.50GHz", "Intel Core i5-12400F"),
        ("AMD Ryzen 7 8700G w/ Radeon 780M Graphics", "AMD Ryzen 7 8700G"),
        ("AMD A10-7850K Radeon R7, 12 Compute Cores 4C+8G", "AMD A10-7850K"),
        ("Intel(R) Xeon(R) CPU E5-2680 0 @ 2.70GH", "Intel Xeon CPU E5-2680"),
        ("Intel Xeon E5-2620 v4 2.1 GHz OEM", "Intel Xeon E5-2620 v4"),
        ("Ryzen 7 7800X3D 8x 4.20GHz So.AM5 WOF", "Ryzen 7 7800X3D"),
        ("BX8071512400 Core i5-12400, 6C/12T, 18MB", "Core i5-12400"),
        ("100-100000910WOF Ryzen 7 7800X3D", "Ryzen 7 7800X3D"),
        ("Core i7 8700 K boxed", "Core i7 8700 K"),
        ("Core i7 8700 Kit", "Core i7 8700"),
        ("Ryzen 7 5700X 3D V-Cache", "Ryzen 7 5700X 3D"),
        ("Ryzen 7 5700X3D 3D V-Cache", "Ryzen 7 5700X3D"),
        ("Ryzen 5 5600 W/O COOLER", "Ryzen 5 5600"),
        ("Core i5-12400 a bargain", "Core i5-12400"),
        ("Intel N100", "Intel N100"),
        ("Intel Core i7", "Intel Core i7"),
        ("Tarn C9 16-Core Processor", "Tarn C9"),  # a short number is none of the grammar's
    ],
)
def test_a_name_ends_with_its_number_and_suffix(text: str, name: str) -> None:
    assert processor_name(text) == name


@pytest.mark.parametrize(
    ("want", "got", "likeness"),
    [
        ("Core i5-12400", "Core i5-12400", SAME),
        ("Core i5-12400", "Core i5-12400F", OTHER),
        ("Core i5-12400F", "Core i5-12400", OTHER),
        ("Core i7 8700 K", "Core i7-8700K", SAME),
        ("Core i7 8700 K", "Core i7-8700", OTHER),
        ("Core i7-14700K", "Core i7-14700KF", OTHER),
        ("Core i3-12100", "Core i5-12100", OTHER),
        ("Core i5-10400T", "Core i5-10400", OTHER),
        ("Core Ultra 7 265K", "Core(TM) Ultra 7 265KF", OTHER),
        ("Core Ultra 5 225", "Core(TM) Ultra 5 225", SAME),
        ("Ryzen 9 7950X", "Ryzen 9 7950X3D 16-Core Processor", OTHER),
        ("Ryzen 9 7950X3D", "Ryzen 9 7950X 16-Core Processor", OTHER),
        ("Ryzen 7 5800X 3D", "Ryzen 7 5800X 8-Core Processor", OTHER),
        ("Ryzen 7 5800X 3D", "Ryzen 7 5800X3D 8-Core Processor", SAME),
        ("Ryzen 7 5700 X 3D", "Ryzen 7 5700X 8-Core Processor", OTHER),
        ("Ryzen 7 5700 X 3D", "Ryzen 7 5700X3D 8-Core Processor", SAME),
        ("Xeon Gold 6248 R", "Xeon(R) Gold 6248 CPU @ 2.50GHz", OTHER),
        ("Xeon Gold 6248 R", "Xeon(R) Gold 6248R CPU @ 3.00GHz", SAME),
        ("Ryzen 9 7950X-3D", "Ryzen 9 7950X 16-Core Processor", OTHER),
        ("Ryzen 9 7950X-3D", "Ryzen 9 7950X3D 16-Core Processor", SAME),
        ("Core i5-12400-F", "Core(TM) i5-12400", OTHER),
        ("Core i5-12400-F", "Core(TM) i5-12400F", SAME),
        ("Core i5-12400(F)", "Core(TM) i5-12400", PARTLY),  # either of the two
        ("Core i5-12400/F", "Core(TM) i5-12400", PARTLY),
        ("Core i5-12400 (tray)", "Core(TM) i5-12400", SAME),
        ("Core i5-12400/box", "Core(TM) i5-12400", SAME),
        ("Ryzen 5 5600", "Ryzen 5 5600G with Radeon Graphics", OTHER),
        ("Ryzen 5 5600GT", "Ryzen 5 5600G with Radeon Graphics", OTHER),
        ("Ryzen 7 5800XT", "Ryzen 7 5800X 8-Core Processor", OTHER),
        ("Ryzen 5 PRO 4650G", "Ryzen 5 4650G with Radeon Graphics", OTHER),
        ("Threadripper PRO 5955WX", "Ryzen Threadripper PRO 5955WX 16-Cores", SAME),
        ("Xeon E5 2620 V3", "Xeon(R) CPU E5-2620 v4 @ 2.10GHz", OTHER),
        ("Xeon E5-2680", "Xeon(R) CPU E5-2680 0 @ 2.70GHz", SAME),
        ("Xeon E5-2680", "Xeon(R) CPU E5-2680 v2 @ 2.80GHz", OTHER),
        ("Xeon E5-2687W v4", "Xeon(R) CPU E5-2650 v4 @ 2.20GHz", OTHER),
        ("Athlon 4850e", "Athlon(tm) 4850e.I", SAME),  # what its firmware adds
        ("FX-6130", "Xeon(R) Gold 6130 CPU @ 2.10GHz", OTHER),
        ("Core i7", "Core i7-8700", PARTLY),
        ("Tarn C9", "Tarn C9 16-Core Processor", SAME),
        ("Tarn C5-F", "Tarn C5 6-Core Processor", OTHER),
        ("Tarn C5", "Tarn C5-F 6-Core Processor", OTHER),
        ("Core i7-8700", "Xeon(R) CPU @ 2.60GHz", OTHER),
        ("Xeon E-2124", "Xeon(R) CPU @ 2.60GHz", PARTLY),
        ("Core i5-2400", "Genuine Intel(R) CPU 0000 @ 2.40GHz", PARTLY),
        ("Ryzen 7 7700", "AMD Processor model unknown", PARTLY),
    ],
)
def test_every_suffix_family_and_version_counts(want: str, got: str, likeness: Likeness) -> None:
    assert processor_likeness(want, got) is likeness


def test_samples_and_zeros_are_known() -> None:
    assert is_sample("AMD Eng Sample: 100-000000560-40_Y") and is_sample("Engineering sample")
    assert not is_sample("AMD Ryzen 5 3600 6-Core Processor")
    assert tells_no_model("Genuine Intel(R) CPU 0000 @ 2.40GHz")
    assert not tells_no_model("Intel(R) Core(TM) i9-10000X")


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("24 cores (8P+16E)", CoreCounts(24, 8, 16, None)),
        ("6 P-cores + 8 E-cores", CoreCounts(14, 6, 8, None)),
        ("8 performance cores and 4 efficiency cores, 20 threads", CoreCounts(12, 8, 4, 20)),
        ("12C/20T", CoreCounts(12, None, None, 20)),
        ("16-thread", CoreCounts(threads=16)),
        ("8P+16E, or 8P+8E", CoreCounts()),
        ("6C/12T or 8C/16T", CoreCounts()),
        ("i5-12400 2P board 100E", CoreCounts()),
        ("12-Core Processor", CoreCounts()),
        ("0C/0T", CoreCounts()),
    ],
)
def test_counts_by_kind(text: str, counts: CoreCounts) -> None:
    assert find_core_counts(text) == counts


SUFFIXES = st.sampled_from(["", "K", "KF", "KS", "F", "T", "X", "XT", "X3D", "G", "GE", "GT", "WX"])
MODELS = st.builds(
    lambda family, number, suffix: f"{family}{number}{suffix}",
    st.sampled_from(["Core i5-", "Core i7-", "Ryzen 5 ", "Ryzen 7 PRO ", "Xeon E-"]),
    st.sampled_from([12400, 12600, 5600, 5700]),
    SUFFIXES,
)


@given(MODELS, MODELS, st.sampled_from(["", " 6-Core Processor", " CPU @ 2.50GHz", " with Radeon Graphics"]))
def test_a_processor_is_its_own_name_and_no_other(one: str, other: str, tail: str) -> None:
    assert (processor_likeness(one, other + tail) is SAME) == (one == other)


@given(st.text(max_size=60), st.text(max_size=60))
def test_any_texts_can_be_compared(one: str, other: str) -> None:
    assert processor_likeness(one, other, one) in Likeness
    find_core_counts(one)
