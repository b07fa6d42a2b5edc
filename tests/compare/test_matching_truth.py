"""What `bench/matching.py` takes for the truth, on invented parts: it must not lean on the comparison."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from shipworthy.model.words import Aspect, Category

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bench"))

from matching_outcome import line_of
from matching_tables import Device, Retail
from matching_truth import Carried, carries, changes, same_part, separations, stands, tokens

from bench import matching
from bench.common import bound, need


def _retail(name: str, *numbers: str, **facts: int | str) -> Retail:
    return Retail(name, "Orvane", name, numbers=numbers, facts=tuple(facts.items()))


def _device(text: str, **states: int | str) -> Device:
    return Device((text,), tuple(states.items()), ())


def test_tokens_are_words_that_name_and_no_facts() -> None:
    assert tokens('Orvane Lumen-X2 1TB SSD 2.5" SATA 6.0 Gb/s') == ("orvane", "lumenx2")
    assert tokens("Orvane Kestrel LPX Black / Red DDR4-3200 CL16 32GB (2x16GB)") == (
        *("orvane", "kestrel", "lpx", "black", "red"),
    )


@pytest.mark.parametrize(
    ("token", "text", "expected"),
    [
        ("lx500", "OV480LX500SSD1", True),  # wrapped in a code
        ("lx500", "OV480LX5001", False),  # another digit makes it another number
        ("7700", "Orvane P7-7700 @ 3.6GHz", True),
        ("7700", "Orvane P7-7700K @ 4.2GHz", False),
        ("b760mayw", "B760M-AYW WIFI", True),
        ("blue", "OVBLUE500", False),  # letters alone are found as a word or not at all
    ],
)
def test_a_token_stands_where_it_is_a_word_or_wrapped_without_doubt(
    token: str, text: str, expected: bool
) -> None:
    assert stands(token, (text,)) is expected


def test_a_witness_carries_the_token_that_tells_all_siblings_apart() -> None:
    own, other = _retail("Orvane LX500 1TB", "OV1"), _retail("Orvane LX700 1TB", "OV2")
    assert carries(own, _device("OV1000LX500SSD1"), [own, other]) is Carried.TOKEN
    assert carries(own, _device("OVD1000GDM"), [own, other]) is Carried.NO  # the code has neither word


def test_a_part_told_by_its_facts_alone_carries_no_token() -> None:
    small, large = _retail("Orvane Blue 1TB", size=1000), _retail("Orvane Blue 2TB", size=2000)
    assert carries(small, _device("OVD1000GDM", size=1000), [small, large]) is Carried.FACTS


def test_the_makers_name_that_a_record_leaves_out_is_no_token() -> None:
    small, large = _retail("Orvane Field F1 320GB", size=320), _retail("Field F2 500GB", size=500)
    assert carries(small, _device("ORVANE OD322J", size=320), [small, large]) is Carried.FACTS
    assert carries(small, _device("ORVANE F1 OD322J", size=320), [small, large]) is Carried.TOKEN


def test_what_the_device_would_have_said_tells_as_well() -> None:
    plain, plus = _retail("Orvane 970 EVO 1TB"), _retail("Orvane 970 EVO Plus 1TB")
    assert separations(plain, plus, _device("Orvane SSD 970 EVO 1TB"))
    assert not separations(plain, plus, _device("OVZ1T0"))


def test_stated_facts_tell_and_those_not_stated_do_not() -> None:
    small, large = _retail("Orvane Blue 1TB", size=1000), _retail("Orvane Blue 2TB", size=2000)
    assert separations(small, large, _device("OVD", size=1000)) == ("size",)
    assert separations(small, large, _device("OVD")) == ()


def test_the_speed_of_memory_is_stated_where_it_runs_at_it_or_the_number_holds_it() -> None:
    sold, fitted = _retail("Orvane K 16GB", speed=3600), _retail("Orvane K 16GB", speed=3200)
    assert changes(sold, fitted, _device("OVK", running=3200)).stated == ("speed",)
    assert changes(sold, fitted, _device("OVK16D3200C16", running=2133)).stated == ("speed",)
    assert changes(sold, fitted, _device("OVK", running=2133)).stated == ()


def test_the_kind_of_change_is_named() -> None:
    assert changes(_retail("Orvane P7 7700K"), _retail("Orvane P7 7700"), _device("P7-7700")).kind == "suffix"
    assert changes(_retail("Orvane K Black"), _retail("Orvane K White"), _device("OVK")).kind == "colour"
    assert changes(_retail("Orvane K"), _retail("Orvane K"), _device("OVK")).kind == "nothing told"


def test_a_number_in_common_makes_two_records_one_part() -> None:
    assert same_part(_retail("Orvane LX", "OV-500"), _retail("Orvane Lx 500", "OV500", "B2"))
    assert not same_part(_retail("Orvane LX", "OV-500"), _retail("Orvane LX 1", "OV-501"))


def test_bounds_are_those_of_clopper_and_pearson() -> None:
    assert bound(0, 1500) == pytest.approx(1 - 0.05 ** (1 / 1500), rel=1e-9)  # the closed form for no hit
    assert bound(0, 0) is None
    assert bound(3, 3) == 1.0


@pytest.mark.parametrize("model", ["1800X", "X570", "2200G"])
def test_a_models_number_is_no_count_and_no_lane(model: str) -> None:
    assert tokens(f"Orvane {model} 2x 8x16GB x4") == ("orvane", model.casefold())


def test_a_difference_counts_also_where_the_device_carries_no_token() -> None:
    hidden, shown = matching.Tally(), matching.Tally()
    hidden.true[Carried.TOKEN.value]["accepted"] = 3
    hidden.true[Carried.NO.value]["differs"] = 1
    shown.true[Carried.TOKEN.value]["accepted"] = 4
    hidden.comparisons, hidden.took_s = 4, 1.0
    told = matching.summary({("hidden", "board"): hidden, ("with numbers", "board"): shown})
    assert told["true_differs"] == 0.25
    assert told["true_accepted_hidden"] == 1.0


def test_of_a_records_numbers_any_will_do_whatever_the_device_says() -> None:
    wish = line_of(Category.STORAGE, _retail("Orvane LX"), ("OC", "OV-500", "OV500B")).wanted(
        Aspect.PART_NUMBER
    )
    assert wish is not None and (wish.want, wish.or_else) == ("OV-500", ("OV500B",))  # `OC` is no number
    assert line_of(Category.STORAGE, _retail("Orvane LX")).wanted(Aspect.PART_NUMBER) is None


def test_a_folder_without_data_ends_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        need(tmp_path, "open-db")
    assert ended.value.code == 2
    assert capsys.readouterr().err.count("\n") == 1
    (tmp_path / "open-db").mkdir()
    need(tmp_path, "open-db")
