"""Reports of NVIDIA's and AMD's tools, and the one question that is put to NVIDIA's tool itself."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipworthy.machine.capture import nvidia_smi as capture
from shipworthy.machine.parse import rocm_smi_json
from shipworthy.machine.parse.nvidia_smi import xml_report as nvidia_smi_xml
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome
from shipworthy.model.words import Absent, RemarkKind
from tests.machine.facts_of import Facts, facts_of
from tests.machine.recorded import link, write

NVIDIA, ROCM = "gpu-readings/nvidia-smi-xml", "gpu-readings/rocm-smi-json"

CARD = """<?xml version="1.0" ?>
<!DOCTYPE nvidia_smi_log SYSTEM "nvsmi_device_v12.dtd">
<nvidia_smi_log>
  <driver_version>999.10</driver_version>
  <gpu id="00000000:0A:00.0">
    <product_name>{name}</product_name>
    <serial>0000000000000</serial><uuid>GPU-1a2b</uuid>
    <pci><pci_device_id>7B0010DE</pci_device_id><pci_sub_system_id>B6017E5A</pci_sub_system_id>
      <pci_gpu_link_info><pcie_gen><max_link_gen>4</max_link_gen><current_link_gen>1</current_link_gen>
        <max_device_link_gen>5</max_device_link_gen></pcie_gen>
        <link_widths><max_link_width>16x</max_link_width><current_link_width>{lanes}</current_link_width>
        </link_widths></pci_gpu_link_info><replay_counter>7</replay_counter></pci>
    <fan_speed>N/A</fan_speed>
    <clocks_event_reasons><clocks_event_reason_gpu_idle>Not Active</clocks_event_reason_gpu_idle>
      <clocks_event_reason_hw_thermal_slowdown>Active</clocks_event_reason_hw_thermal_slowdown>
      <clocks_event_reason_sw_power_cap>Active</clocks_event_reason_sw_power_cap></clocks_event_reasons>
    <fb_memory_usage><total>12288 MiB</total></fb_memory_usage>
    <bar1_memory_usage><total>256 MiB</total></bar1_memory_usage>
    <ecc_mode><current_ecc>Enabled</current_ecc></ecc_mode>
    <ecc_errors><volatile><sram_correctable>9</sram_correctable></volatile><aggregate>
      <sram_correctable>1</sram_correctable><dram_correctable>2</dram_correctable>
      <sram_uncorrectable_parity>N/A</sram_uncorrectable_parity>
      <sram_uncorrectable_secded>3</sram_uncorrectable_secded>
      <dram_uncorrectable>4</dram_uncorrectable></aggregate></ecc_errors>
    <remapped_rows><remapped_row_corr>5</remapped_row_corr><remapped_row_unc>6</remapped_row_unc>
      <remapped_row_pending>Yes</remapped_row_pending><remapped_row_failure>No</remapped_row_failure>
    </remapped_rows>
    <temperature><gpu_temp>{heat}</gpu_temp><gpu_temp_slow_threshold>95 C</gpu_temp_slow_threshold>
      <gpu_temp_max_threshold>98 C</gpu_temp_max_threshold>
      <gpu_target_temperature>83 C</gpu_target_temperature></temperature>
    <gpu_power_readings><current_power_limit>300.00 W</current_power_limit>
      <default_power_limit>320.00 W</default_power_limit><max_power_limit>336.00 W</max_power_limit>
    </gpu_power_readings>
    <processes><process_info><process_name>/home/someone/private</process_name></process_info></processes>
  </gpu>
</nvidia_smi_log>
"""


def report(name: str = "Sable RTX 30", lanes: str = "8x", heat: str = "41 C") -> bytes:
    return CARD.format(name=name, lanes=lanes, heat=heat).encode()


def nvidia(data: bytes) -> Parsed:
    return nvidia_smi_xml.parse((Reply("nvidia-smi-xml.1", "/x", SourceOutcome.READ, data),))


def rocm(data: bytes) -> Parsed:
    return rocm_smi_json.parse((Reply("rocm-smi-json.1", "/x", SourceOutcome.READ, data),))


def facts(parsed: Parsed) -> Facts:
    (sighting,) = parsed.sightings
    return facts_of(sighting.said)


def test_a_card_in_a_report_of_nvidias_tool() -> None:
    parsed = nvidia(report())
    found = facts(parsed)
    assert parsed.sightings[0].place == "pci:0000:0a:00.0" and parsed.remarks == ()
    assert (found["vendor_id"], found["device_id"]) == ("0x10de", "0x7b00")
    assert (found["subsystem_vendor_id"], found["subsystem_device_id"]) == ("0x7e5a", "0xb601")
    assert (found["link_speed_gt_s"], found["link_width"]) == (2.5, 8)
    assert (found["path_speed_max_gt_s"], found["link_max_speed_gt_s"], found["path_width_max"]) == (
        16.0,
        32.0,
        16,
    )
    assert found["memory_bytes"] == 12 << 30 and found["resizable_bar"] == "off"
    assert (found["power_limit_w"], found["power_limit_default_w"], found["power_limit_max_w"]) == (
        300,
        320,
        336,
    )
    assert (found["temperature_target_c"], found["temperature_slowdown_c"]) == (83, 95)
    assert found["temperature_shutdown_c"] == 98
    assert found["throttle_reasons"] == "hw thermal slowdown, sw power cap"
    assert (found["ecc_corrected"], found["ecc_uncorrected"]) == (3, 7)
    assert (found["remapped_rows_corrected"], found["remapped_rows_uncorrected"]) == (5, 6)
    assert (found["remapped_rows_pending"], found["remapped_rows_failure"]) == (True, False)
    assert found["pcie_replays"] == 7 and found["driver_version"] == "999.10"
    assert "serial" not in found and "fan_percent" not in found


def test_a_card_that_gives_margins_instead_of_limits() -> None:
    """Form as seen of a card of 2024 with driver 580: margins and no thresholds."""
    old = b"<gpu_temp_slow_threshold>95 C</gpu_temp_slow_threshold>"
    new = b"<gpu_temp_tlimit>48 C</gpu_temp_tlimit>"
    new += b"<gpu_temp_slow_tlimit_threshold>-2 C</gpu_temp_slow_tlimit_threshold>"
    found = facts(nvidia(report().replace(old, new)))
    assert (found["temperature_margin_c"], found["temperature_slowdown_margin_c"]) == (48.0, -2.0)
    assert "temperature_slowdown_c" not in found


def test_a_driver_that_does_not_know_its_card_gives_no_model() -> None:
    assert facts(nvidia(report(name="Graphics Device")))["model"] is Absent.NOT_OFFERED


@pytest.mark.parametrize(
    ("lanes", "heat", "want"),
    [
        ("N/A", "N/A", (Absent.NOT_OFFERED, None)),
        ("0x", "255 C", (Absent.IMPLAUSIBLE, Absent.IMPLAUSIBLE)),
        ("many", "ERR!", (Absent.IMPLAUSIBLE, Absent.NOT_READABLE)),
        ("[GPU is lost]", "41 F", (Absent.NOT_READABLE, Absent.IMPLAUSIBLE)),
        ("16", "-128 C", (Absent.IMPLAUSIBLE, Absent.IMPLAUSIBLE)),
    ],
)
def test_absent_lost_and_implausible_are_three_things(
    lanes: str, heat: str, want: tuple[object, object]
) -> None:
    found = facts(nvidia(report(lanes=lanes, heat=heat)))
    assert (found["link_width"], found.get("temperature_c")) == want


BOMB = b'<!DOCTYPE nvidia_smi_log [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><nvidia_smi_log>&b;</nvidia_smi_log>'


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (report()[:900], RemarkKind.CUT_SHORT),
        (b"", RemarkKind.CUT_SHORT),
        (b"<other/>", RemarkKind.BAD_HEADER),
        (BOMB, RemarkKind.BAD_VALUE),
        (b"<nvidia_smi_log>" + b" " * nvidia_smi_xml.MOST_BYTES, RemarkKind.BAD_LENGTH),
        (report().replace(b"00000000:0A:00.0", b"nowhere"), RemarkKind.BAD_VALUE),
    ],
)
def test_a_report_that_is_none_is_named(data: bytes, kind: RemarkKind) -> None:
    parsed = nvidia(data)
    assert parsed.sightings == () and [remark.kind for remark in parsed.remarks] == [kind]


def test_reports_are_told_by_their_content(reference: Path) -> None:
    for folder, ours, other in (
        (NVIDIA, nvidia_smi_xml.recognises, rocm_smi_json.recognises),
        (ROCM, rocm_smi_json.recognises, nvidia_smi_xml.recognises),
    ):
        files = sorted((reference / folder).iterdir())
        assert files
        for file in files:
            head = file.read_bytes()[:4096]
            assert ours("report.txt", head) and not other("report.txt", head)
    assert not nvidia_smi_xml.recognises("x.xml", b"<list><node/></list>")
    assert not rocm_smi_json.recognises("x.json", b'{"blockdevices": []}')


def test_the_real_cards_of_nvidia(reference: Path) -> None:
    """Figures by eye from the files: memory, links, limits; and what is blanked out or never said."""
    found = {f.stem: facts(nvidia(f.read_bytes())) for f in sorted((reference / NVIDIA).iterdir())}
    assert len(found) == 7
    assert found["tesla-t4"]["memory_bytes"] == 15360 << 20
    assert (found["tesla-t4"]["link_width"], found["tesla-t4"]["path_width_max"]) == (8, 16)
    assert found["a10g"]["device_id"] is Absent.IMPLAUSIBLE and "serial" not in found["a10g"]
    assert found["rtx-3080-v12"]["uuid"] == found["rtx-3080-v13"]["uuid"]
    assert found["rtx-3080-v12"]["power_limit_w"] == 336.0
    assert found["rtx-3080-v13"]["resizable_bar"] == "on" and found["rtx-3060-v12"]["resizable_bar"] == "off"
    assert found["quadro-p400"]["serial"] == "0424418054852"
    assert found["gtx-1070-ti"]["device_id"] is Absent.NOT_OFFERED


AMD_CARD = {
    "Device ID": "0x7a10",
    "Device Rev": "0xc1",
    "PCI Bus": "0000:07:00.0",
    "VBIOS version": "113-TARN-01",
    "Card Series": "Vale 22 [Norvik RX 6700/6700 XT]",
    "Card Model": "0x7a10",
    "Card Vendor": "Norvik",
    "VRAM Total Memory (B)": str(12 << 30),
    "VIS_VRAM Total Memory (B)": str(12 << 30),
    "Temperature (Sensor edge) (C)": "511.0",
    "Average Graphics Package Power (W)": "N/A (Secondary die)",
    "Max Graphics Package Power (W)": "211.0",
    "pcie clock level": "1 (16.0GT/s x16)",
    "Serial Number": "N/A",
    "0": "2.5GT/s x1",
}


def test_a_card_in_a_report_of_amds_tool() -> None:
    parsed = rocm(json.dumps({"card0": AMD_CARD, "system": {"Driver version": "6.9"}}).encode())
    found = facts(parsed)
    assert parsed.sightings[0].place == "pci:0000:07:00.0"
    assert (found["vendor_id"], found["device_id"], found["revision_id"]) == ("0x1002", "0x7a10", "0xc1")
    assert found["model"] is Absent.NOT_OFFERED
    assert found["model_candidates"] == "Norvik RX 6700 | Norvik RX 6700 XT"
    assert found["resizable_bar"] == "on" and found["memory_bytes"] == 12 << 30
    assert found["temperature_c"] is Absent.IMPLAUSIBLE
    assert found["power_limit_w"] == 211.0 and "power_w" not in found and "serial" not in found
    assert (found["driver_link_speed_gt_s"], found["driver_link_width"]) == (16.0, 16)
    assert "subsystem_device_id" not in found
    assert [(r.kind, r.count) for r in parsed.remarks] == [(RemarkKind.NOT_UNDERSTOOD, 1)]


@pytest.mark.parametrize(
    "data", [b"", b"[]", b"{", b'{"card0": 1}', b'{"card0": {}}', b"\xff", b"[" * 100_000]
)
def test_rubbish_for_a_report_of_amds_tool_is_named(data: bytes) -> None:
    parsed = rocm(data)
    assert parsed.sightings == () and len(parsed.remarks) == 1


def test_the_real_reports_of_one_card_agree_where_their_keys_differ(reference: Path) -> None:
    found = {f.stem: facts(rocm(f.read_bytes())) for f in sorted((reference / ROCM).iterdir())}
    assert len(found) == 4
    assert {one["device_id"] for one in found.values()} == {"0x73df"}
    assert {one["memory_bytes"] for one in found.values()} == {12868124672}
    assert {one["resizable_bar"] for one in found.values()} == {"off"}
    assert [one.get("subsystem_device_id") for _, one in sorted(found.items())] == [
        None,
        "0x6601",
        "0x6601",
        "0x6601",
    ]
    (oldest,) = [f for f in (reference / ROCM).iterdir() if "430" in f.name]
    assert any(r.detail == "0x1002" for r in rocm(oldest.read_bytes()).remarks)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 3000), st.binary(max_size=8), st.integers(0, 8))
def test_a_spoiled_report_raises_nothing(at: int, piece: bytes, cut: int) -> None:
    whole = report()
    nvidia(whole[:at] + piece + whole[at + cut :])
    text = json.dumps({"card0": AMD_CARD}).encode()
    at %= len(text)
    rocm(text[:at] + piece + text[at + cut :])


def machine(root: Path, vendor: str = "0x10de", code: str = "0x030000") -> Root:
    folder = "sys/devices/pci0000:00/0000:0a:00.0"
    write(root, f"{folder}/vendor", f"{vendor}\n")
    write(root, f"{folder}/class", f"{code}\n")
    link(root, "sys/bus/pci/devices/0000:0a:00.0", folder)
    return Root(root)


@pytest.mark.parametrize(("vendor", "code"), [("0x1002", "0x030000"), ("0x10de", "0x040300")])
def test_nothing_is_asked_where_no_card_of_nvidias_is(tmp_path: Path, vendor: str, code: str) -> None:
    (reply,) = capture.capture(machine(tmp_path, vendor, code))
    assert (reply.outcome, reply.error) == (SourceOutcome.ABSENT, "no such card")


def test_a_recorded_answer_is_read_and_names_of_programs_are_not_kept(tmp_path: Path) -> None:
    root = machine(tmp_path)
    write(tmp_path, capture.RECORDED.lstrip("/"), report())
    (reply,) = capture.capture(root)
    assert reply.read and b"someone" not in reply.data
    assert facts(nvidia_smi_xml.parse((reply,)))["model"] == "Sable RTX 30"


def script(folder: Path, text: str) -> str:
    file = folder / "tool"
    file.write_text(f"#!/bin/sh\n{text}\n")
    file.chmod(0o700)
    return str(file)


def test_a_tool_that_answers(tmp_path: Path) -> None:
    (tmp_path / "answer.xml").write_bytes(report())
    reply = capture.ask((script(tmp_path, f"cat {tmp_path}/answer.xml"),), 5, 1 << 20)
    assert reply.outcome is SourceOutcome.READ and b"Sable RTX 30" in reply.data


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("exec sleep 30", "no answer in its time"),
        ("exec 1>&-; exec sleep 30", "it did not end"),
        ("exec cat /dev/zero", "more than 100000 bytes"),
        ("echo 'No devices were found'; exit 6", "exit status 6"),
    ],
)
def test_a_tool_that_hangs_floods_or_fails_is_ended_and_named(tmp_path: Path, text: str, error: str) -> None:
    began_s = time.monotonic()
    reply = capture.ask((script(tmp_path, text),), 0.4, 100_000)
    assert (reply.outcome, reply.error) == (SourceOutcome.FAILED, error)
    assert time.monotonic() - began_s < 15  # half of its sleep
    assert nvidia_smi_xml.parse((reply,)) == Parsed()


def test_a_tool_that_is_not_there(tmp_path: Path) -> None:
    reply = capture.ask((os.fspath(tmp_path / "none"),), 1, 100)
    assert reply.outcome is SourceOutcome.FAILED and reply.error
