"""The kinds of raw source that can be decoded from a file, without a machine: a line each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType

from shipworthy.machine.parse import lsblk_json, lscpu_text, pciconf_text, rocm_smi_json
from shipworthy.machine.parse.ata import file as ata_file
from shipworthy.machine.parse.boot_log import source as boot_log
from shipworthy.machine.parse.cpu import cpuid
from shipworthy.machine.parse.dmidecode_text import source as dmidecode_text
from shipworthy.machine.parse.edid import file as edid_file
from shipworthy.machine.parse.lshw_xml import source as lshw_xml
from shipworthy.machine.parse.lspci_text import source as lspci_text
from shipworthy.machine.parse.nvidia_smi import xml_report as nvidia_smi_xml
from shipworthy.machine.parse.nvme import file as nvme_file
from shipworthy.machine.parse.pci import config as pci_config
from shipworthy.machine.parse.pci import file as pci_file
from shipworthy.machine.parse.sensors import json_report as sensors_json
from shipworthy.machine.parse.smartctl import json_report as smartctl_json
from shipworthy.machine.parse.smartctl import text_report as smartctl_text
from shipworthy.machine.parse.smbios import describe as smbios_describe
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.parse.spd import file as spd_file
from shipworthy.machine.parse.spd import source as spd
from shipworthy.machine.parse.usb import file as usb_file
from shipworthy.machine.raw import Parsed, Reply, Section

Parse = Callable[[tuple[Reply, ...]], Parsed]
Describe = Callable[[bytes], tuple[Section, ...]]


def _as_it_is(data: bytes) -> bytes:
    return data


@dataclass(frozen=True)
class Kind:
    """One kind of file.

    what: in a few words, for people. parse: as of a source; each reply is one file. recognises: whether a
    file is of this kind, by its name and first bytes; None where its bytes do not tell, and it must be named.
    describe: every field as it lies there. prepare: the raw bytes in a file's text form.
    """

    name: str
    what: str
    parse: Parse
    recognises: Callable[[str, bytes], bool] | None = None
    describe: Describe | None = None
    prepare: Callable[[bytes], bytes] = _as_it_is
    suffix: str = "txt"


def _page(name: str, what: str, parse: Parse, describe: Describe) -> Kind:
    """A page of a drive: its bytes do not tell which it is, so it must be named."""
    return Kind(name, what, parse, describe=describe, suffix="bin")


def _report(module: ModuleType, what: str, suffix: str = "txt") -> Kind:
    """A report of another tool; its module says how it is told and what its pieces are."""
    describe = getattr(module, "describe", None)
    return Kind(module.NAME, what, module.parse, module.recognises, describe, suffix=suffix)


KINDS: tuple[Kind, ...] = (
    Kind(
        "smbios",
        "an SMBIOS table, with an entry point, bare, or with the header that Windows puts before it",
        smbios.parse,
        smbios.recognises,
        smbios_describe.describe,
        suffix="bin",
    ),
    Kind(
        "edid",
        "a display's EDID, binary or as hexadecimal text",
        edid_file.parse,
        edid_file.recognises,
        edid_file.describe,
        edid_file.edid_of_file,
        "bin",
    ),
    Kind("spd", "a memory module's SPD", spd_file.parse, describe=spd.describe, suffix="bin"),
    _page(
        "nvme-controller",
        "NVMe Identify Controller",
        nvme_file.parse_controller,
        nvme_file.describe_controller,
    ),
    _page(
        "nvme-namespace", "NVMe Identify Namespace", nvme_file.parse_namespace, nvme_file.describe_namespace
    ),
    _page("nvme-health", "NVMe log page 02h", nvme_file.parse_health, nvme_file.describe_health),
    _page("ata-identify", "ATA IDENTIFY DEVICE", ata_file.parse_identify, ata_file.describe_identify),
    _page(
        "ata-statistics",
        "ATA device statistics, page 1",
        ata_file.parse_statistics,
        ata_file.describe_statistics,
    ),
    _page("ata-smart", "ATA SMART READ DATA", ata_file.parse_smart, ata_file.describe_smart),
    Kind(
        "pci-config",
        "a PCI configuration space",
        pci_file.parse,
        describe=pci_config.describe,
        suffix="bin",
    ),
    Kind(
        usb_file.NAME,
        "a USB device's descriptors",
        usb_file.parse,
        usb_file.recognises,
        usb_file.describe,
        suffix="bin",
    ),
    _report(dmidecode_text, "dmidecode's text"),
    _report(lshw_xml, "lshw -xml", "xml"),
    _report(lspci_text, "lspci -vvnn or lspci -nn"),
    _report(pciconf_text, "pciconf -lv"),
    _report(lscpu_text, "lscpu, text or JSON"),
    _report(lsblk_json, "lsblk -J", "json"),
    _report(sensors_json, "sensors -j", "json"),
    _report(smartctl_json, "smartctl --json", "json"),
    _report(smartctl_text, "smartctl -a or -x"),
    _report(nvidia_smi_xml, "nvidia-smi -q -x", "xml"),
    _report(rocm_smi_json, "rocm-smi --json", "json"),
    _report(cpuid, "CPUID leaves as text or XML"),
    _report(boot_log, "a kernel's log"),
)


def kind_named(name: str) -> Kind | None:
    return next((kind for kind in KINDS if kind.name == name), None)
