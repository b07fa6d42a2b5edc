"""What graphics cards show while they are sampled: files of DRM's drivers, lines of NVIDIA's tool."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipworthy.machine.parse.nvidia_smi import xml_report
from shipworthy.machine.parse.sensors import nvidia
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.machine.sensors import Sampler, device_of, list_columns
from shipworthy.machine.sensors_graphics import sleeps
from shipworthy.model.facts import Sighting
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.runlog import Column
from shipworthy.model.words import Unit
from tests.machine.recorded import GPU, build, link, write
from tests.machine.test_machine_graphics_reports import report

PLACE = "pci:0000:01:00.0"
LINE = "00000000:01:00.0, 61, 43, 122.07, 1980, 97, 0x0000000000000004"


def card(root: Path, driver: str, files: dict[str, str]) -> None:
    """Add a DRM card at GPU's place; names of files as below `/sys/class/drm/card1`."""
    link(root, f"{GPU}/driver", f"sys/bus/pci/drivers/{driver}")
    (root / f"sys/bus/pci/drivers/{driver}").mkdir(parents=True, exist_ok=True)
    (root / GPU / "drm/card1").mkdir(parents=True, exist_ok=True)
    link(root, f"{GPU}/drm/card1/device", GPU)
    link(root, "sys/class/drm/card1", f"{GPU}/drm/card1")
    link(root, "sys/class/drm/renderD128", f"{GPU}/drm/card1")
    for name, text in files.items():
        write(root, f"{GPU}/drm/card1/{name}" if not name.startswith("device/") else GPU + name[6:], text)


def graphics(root: Path) -> dict[str, Column]:
    return {column.channel: column for column in list_columns(Root(root)) if column.place == PLACE}


def sampled(root: Path) -> dict[str, float | None]:
    columns = tuple(graphics(root).values())
    row = Sampler(Root(root), columns).sample()
    return dict(zip((column.channel for column in columns), row, strict=True))


I915 = {
    "gt/gt0/rps_act_freq_mhz": "1450\n",
    "gt/gt0/rps_max_freq_mhz": "1600\n",
    "gt/gt0/throttle_reason_status": "1\n",
    "gt/gt0/throttle_reason_pl1": "1\n",
    "gt/gt0/throttle_reason_thermal": "1\n",
    "gt/gt0/throttle_reason_prochot": "0\n",
    "gt/gt0/throttle_reason_vr_thermalert": "0\n",
    "gt/gt0/throttle_reason_vr_tdc": "1\n",
    "gt_act_freq_mhz": "1450\n",
}


def test_i915_tells_the_clock_of_each_gt_and_the_slow_downs_that_mean_heat(tmp_path: Path) -> None:
    card(tmp_path, "i915", I915)
    columns = graphics(tmp_path)
    assert {channel: (c.quantity, c.unit, c.label) for channel, c in columns.items()} == {
        "gt0_rps_act_freq_mhz": ("clock", Unit.MEGAHERTZ, "i915 gt0 clock"),
        "gt0_throttle_reason_prochot": ("throttle", Unit.RATIO, "i915 gt0 prochot slow-down"),
        "gt0_throttle_reason_thermal": ("throttle", Unit.RATIO, "i915 gt0 thermal slow-down"),
        "gt0_throttle_reason_vr_thermalert": ("throttle", Unit.RATIO, "i915 gt0 vr thermalert slow-down"),
    }
    assert {device_of(column) for column in columns.values()} == {"/sys/class/drm/card1"}
    assert sampled(tmp_path) == {
        "gt0_rps_act_freq_mhz": 1450.0,
        "gt0_throttle_reason_prochot": 0.0,
        "gt0_throttle_reason_thermal": 1.0,
        "gt0_throttle_reason_vr_thermalert": 0.0,
    }


def test_an_older_i915_tells_one_clock_only(tmp_path: Path) -> None:
    card(tmp_path, "i915", {"gt_act_freq_mhz": "0\n"})
    assert sampled(tmp_path) == {"gt_act_freq_mhz": 0.0}  # it stands: that is a value


def test_xe_tells_the_same_by_tile_and_gt(tmp_path: Path) -> None:
    xe = {
        "device/tile0/gt0/freq0/act_freq": "2400\n",
        "device/tile0/gt0/freq0/throttle/status": "1\n",
        "device/tile0/gt0/freq0/throttle/reason_ratl": "1\n",
        "device/tile0/gt0/freq0/throttle/reason_pl2": "1\n",
        "device/tile0/gt1/freq0/act_freq": "1100\n",
        "device/tile0/gt1/freq0/throttle/reason_soc_thermal": "0\n",
    }
    card(tmp_path, "xe", xe)
    assert sampled(tmp_path) == {
        "tile0_gt0_act_freq": 2400.0,
        "tile0_gt0_reason_ratl": 1.0,
        "tile0_gt1_act_freq": 1100.0,
        "tile0_gt1_reason_soc_thermal": 0.0,
    }
    assert graphics(tmp_path)["tile0_gt0_reason_ratl"].label == "xe tile0 gt0 ratl slow-down"


@pytest.mark.parametrize(
    ("text", "value"),
    [("37\n", 0.37), ("0\n", 0.0), ("100\n", 1.0), ("101\n", None), ("", None), ("x", None)],
)
def test_amdgpu_tells_how_busy_the_card_is(tmp_path: Path, text: str, value: float | None) -> None:
    card(tmp_path, "amdgpu", {"device/gpu_busy_percent": text})
    assert sampled(tmp_path) == {"gpu_busy_percent": value}
    assert graphics(tmp_path)["gpu_busy_percent"].label == "amdgpu utilisation"


def test_a_card_that_sleeps_is_not_asked_and_stands_still(tmp_path: Path) -> None:
    """The files are taken away, so that who asks them gets nothing."""
    card(tmp_path, "i915", {**I915, "device/power/runtime_status": "active\n"})
    link(tmp_path, "sys/bus/pci/devices/0000:01:00.0", GPU)
    columns = tuple(graphics(tmp_path).values())
    sampler = Sampler(Root(tmp_path), columns)
    assert sampler.sample()[0] == 1450.0 and not sleeps(Root(tmp_path), PLACE)
    write(tmp_path, f"{GPU}/power/runtime_status", "suspended\n")
    for name in I915:
        (tmp_path / GPU / "drm/card1" / name).unlink()
    assert sampler.sample() == (0.0,) * len(columns)
    assert sleeps(Root(tmp_path), PLACE) and sleeps(Root(tmp_path), f"{PLACE}#amdgpu")
    assert not sleeps(Root(tmp_path), "pci:0000:02:00.0") and not sleeps(Root(tmp_path), "cpu:0")
    write(tmp_path, f"{GPU}/power/runtime_status", "active\n")
    assert sampler.sample() == (None,) * len(columns)


def test_a_card_without_any_such_file_has_no_column(tmp_path: Path) -> None:
    assert not [column for column in list_columns(Root(build(tmp_path))) if column.place == PLACE]


def test_a_recorded_machine_with_a_card_of_nvidias_has_no_columns_of_the_tool(tmp_path: Path) -> None:
    build(tmp_path)
    write(tmp_path, f"{GPU}/vendor", "0x10de\n")
    write(tmp_path, "replies/nvidia-smi/query.xml", report())
    assert not [column for column in list_columns(Root(tmp_path)) if column.source.startswith("nvidia-smi")]


def test_a_line_of_the_tool_is_one_card_at_one_moment() -> None:
    assert nvidia.read_line(LINE) == (PLACE, (61.0, 0.43, 122.07, 1980.0, 0.97, 0.0, 0.0, 0.0, 0.0))
    assert len(nvidia.CHANNELS) == 9


@pytest.mark.parametrize(
    ("mask", "active"),
    [
        ("0x0000000000000000", ()),
        ("0x0000000000000117", ()),  # idle, application clocks, power limit, synchronised boost, display
        ("0x0000000000000008", ("hw_slowdown",)),
        ("0x0000000000000048", ("hw_slowdown", "hw_thermal_slowdown")),
        ("0x0000000000000024", ("sw_thermal_slowdown",)),
        ("0x0000000000000088", ("hw_slowdown", "hw_power_brake_slowdown")),
    ],
)
def test_only_reasons_that_mean_too_little_cooling_or_supply_are_slow_downs(
    mask: str, active: tuple[str, ...]
) -> None:
    read = nvidia.read_line(LINE.replace("0x0000000000000004", mask))
    assert read is not None
    said = dict(zip(nvidia.CHANNELS, read[1], strict=True))
    assert tuple(name for name in nvidia.REASON_BITS if said[name]) == active


@pytest.mark.parametrize(
    "absent", ["[N/A]", "[Not Supported]", "N/A", "[Unknown Error]", "[GPU is lost]", ""]
)
def test_what_the_card_does_not_say_is_no_value(absent: str) -> None:
    line = ", ".join(["00000000:01:00.0", *[absent] * 6])
    assert nvidia.read_line(line) == (PLACE, (None,) * 9)


@pytest.mark.parametrize(
    "line", ["00000000:01:00.0, 0, 999, 4000, 99999, 101, 4", "00000000:01:00.0, -5, -1, 1e3, nan, inf, 0x"]
)
def test_what_cannot_be_so_is_no_value(line: str) -> None:
    assert nvidia.read_line(line) == (PLACE, (None,) * 9)


@pytest.mark.parametrize(
    "line",
    [
        "",
        "No devices were found",
        'Field "clocks_event_reasons.active" is not a valid field to query.',
        "0:01:00.0, 61, 43, 122.07, 1980, 97, 0x4",
        LINE[:-20],
        LINE + ", 1",
        LINE[20:],
    ],
)
def test_a_torn_line_is_none(line: str) -> None:
    assert nvidia.read_line(line) is None


@given(st.text(max_size=80))
def test_law_no_text_makes_it_fail(text: str) -> None:
    assert nvidia.read_line(text) is None or text.strip().startswith("0")
    assert nvidia.read_line(f"00000000:01:00.0, {text}, 1, 1, 1, 1, 0x0") is not None or "," in text


def cards(data: bytes) -> tuple[Sighting, ...]:
    return xml_report.parse((Reply("nvidia-smi", "/x", SourceOutcome.READ, data),)).sightings


def critical_of(heat: str) -> float | None:
    begin, end = report().index(b"<temperature>"), report().index(b"</temperature>")
    data = report()[:begin] + b"<temperature>" + heat.encode() + report()[end:]
    return nvidia.critical_temperatures_c(cards(data)).get("pci:0000:0a:00.0")


TARGET = "<gpu_target_temperature>83 C</gpu_target_temperature>"
NOW, LEFT, OFF = "gpu_temp", "gpu_temp_tlimit", "gpu_temp_max_tlimit_threshold"


def said(**numbers: int) -> str:
    return TARGET + "".join(f"<{name}>{number} C</{name}>" for name, number in numbers.items())


@pytest.mark.parametrize(
    ("heat", "critical_c"),
    [
        (said(gpu_temp_slow_threshold=95, gpu_temp_max_threshold=98), 95.0),
        (said(gpu_temp_max_threshold=98, gpu_temp_max_gpu_threshold=93), 98.0),
        (said(gpu_temp_max_gpu_threshold=93), None),
        (said(), None),
        (said(**{NOW: 40, LEFT: 44, OFF: -7, "gpu_temp_slow_tlimit_threshold": -2}), 91.0),
        (said(**{NOW: 40, LEFT: 44, "gpu_temp_slow_tlimit_threshold": -2}), None),
        (said(**{NOW: 40, OFF: -7}), None),
        (said(**{NOW: 95, LEFT: 90, OFF: -7}), None),  # 192 °C is no temperature of a card
    ],
)
def test_a_cards_critical_temperature_is_its_slow_down_or_switching_off_and_never_its_target(
    heat: str, critical_c: float | None
) -> None:
    assert critical_of(heat) == critical_c


def test_the_columns_of_a_card() -> None:
    columns = nvidia.columns([PLACE], {PLACE: 95.0})
    assert [column.channel for column in columns] == list(nvidia.CHANNELS)
    assert len({(column.quantity, column.channel) for column in columns}) == len(columns)
    assert [column.critical for column in columns] == [95.0] + [None] * 8
    assert not [column for column in columns if column.quantity == "fan"]  # the tool tells no turns a minute


def test_the_critical_temperatures_of_real_cards(reference: Path) -> None:
    found = {
        file.stem: sorted(nvidia.critical_temperatures_c(cards(file.read_bytes())).values())
        for file in sorted((reference / "gpu-readings/nvidia-smi-xml").glob("*.xml"))
    }
    assert found == {
        "a10g": [95.0],
        "gtx-1070-ti": [],
        "quadro-p400": [100.0],
        "rtx-3060-v12": [95.0],
        "rtx-3080-v12": [95.0],
        "rtx-3080-v13": [95.0],
        "tesla-t4": [93.0],
    }


def test_a_measured_trace_of_a_real_card_is_read_whole(reference: Path) -> None:
    with (reference / "gpu-trace/gpu-trace-duty.csv").open() as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        fields = ("gpu_temp_c", "power_w", "sm_clock_mhz", "utilisation_pct", "clock_event_reasons")
        heat, power, clock, busy, reasons = (row[name] for name in fields)
        read = nvidia.read_line(f"00000000:1B:00.0, {heat}, [N/A], {power}, {clock}, {busy}, {reasons}")
        values = (float(heat), None, float(power), float(clock), int(busy) / 100, 0.0, 0.0, 0.0, 0.0)
        assert read == ("pci:0000:1b:00.0", values)
    assert len(rows) > 800
