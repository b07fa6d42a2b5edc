"""The sources of a reading: a line each. Other packages add theirs by the entry point `shipworthy.sources`.

A source is two functions (ADR 0004). `capture` touches the machine below its root and gives replies; it
does not raise for what the machine refuses. `parse` is pure and makes sightings from replies alone, so
that a reading can be made again from its raw files.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from shipworthy.machine.capture import ata as ask_ata
from shipworthy.machine.capture import battery as ask_battery
from shipworthy.machine.capture import block as ask_block
from shipworthy.machine.capture import bluetooth as ask_bluetooth
from shipworthy.machine.capture import contents as ask_contents
from shipworthy.machine.capture import cpu as ask_cpu
from shipworthy.machine.capture import displays as ask_displays
from shipworthy.machine.capture import edac as ask_edac
from shipworthy.machine.capture import firmware as ask_firmware
from shipworthy.machine.capture import kernel as ask_kernel
from shipworthy.machine.capture import memory as ask_memory
from shipworthy.machine.capture import network as ask_network
from shipworthy.machine.capture import nvidia_smi as ask_nvidia_smi
from shipworthy.machine.capture import nvme as ask_nvme
from shipworthy.machine.capture import optical as ask_optical
from shipworthy.machine.capture import pci as ask_pci
from shipworthy.machine.capture import scsi as ask_scsi
from shipworthy.machine.capture import security as ask_security
from shipworthy.machine.capture import sensors as ask_sensors
from shipworthy.machine.capture import smartctl as ask_smartctl
from shipworthy.machine.capture import sound as ask_sound
from shipworthy.machine.capture import spd as ask_spd
from shipworthy.machine.capture import usb as ask_usb
from shipworthy.machine.capture import wireless as ask_wireless
from shipworthy.machine.parse import (
    battery,
    block,
    bluetooth,
    contents,
    edac,
    firmware,
    kernel,
    memory,
    scsi,
    security,
    sound,
    wireless,
)
from shipworthy.machine.parse.ata import source as ata
from shipworthy.machine.parse.cpu import source as cpu
from shipworthy.machine.parse.cpu import topology as cpu_topology
from shipworthy.machine.parse.edid import displays
from shipworthy.machine.parse.network import source as network
from shipworthy.machine.parse.nvidia_smi import xml_report as nvidia_smi_xml
from shipworthy.machine.parse.nvme import source as nvme
from shipworthy.machine.parse.optical import source as optical
from shipworthy.machine.parse.pci import source as pci
from shipworthy.machine.parse.sensors import source as sensors
from shipworthy.machine.parse.smartctl import json_report as smartctl_json
from shipworthy.machine.parse.smbios import source as smbios
from shipworthy.machine.parse.spd import source as spd
from shipworthy.machine.parse.usb import source as usb
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, digest_of

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

PROTOCOL = 1
GROUP = "shipworthy.sources"
SLOW_S = 20.0
"""For drives, which may have to be waited for one by one; each request has a shorter limit of its own."""

Capture = Callable[[Root], Sequence[Reply]]
Parse = Callable[[tuple[Reply, ...]], Parsed]


@dataclass(frozen=True)
class Source:
    """One source.

    name: in every row of the index; the ids of its replies are this name, or begin with it and a dot.
    configuration: what to ask when only the configuration is wanted; None if the source adds nothing to it.
    protocol: the version of this agreement that the source was written for.
    limit_s: how long to wait for it; a source that is not done by then is given up, and named.
    """

    name: str
    capture: Capture
    parse: Parse
    configuration: Capture | None = None
    protocol: int = PROTOCOL
    limit_s: float = 5.0
    platform: Literal["linux"] = "linux"
    origin: bytes = b""  # of a source from another package: what it is, kept with its replies


SOURCES: tuple[Source, ...] = (
    Source("cpuinfo", ask_cpu.capture_cpuinfo, cpu.parse_cpuinfo, ask_cpu.capture_cpuinfo),
    Source(
        "topology",
        ask_cpu.capture_topology,
        cpu_topology.parse_topology,
        ask_cpu.capture_topology_configuration,
    ),
    Source(
        "power-limits", ask_cpu.capture_power_limits, cpu.parse_power_limits, ask_cpu.capture_power_limits
    ),
    Source("meminfo", ask_memory.capture, memory.parse),
    Source("smbios", ask_firmware.capture_smbios, smbios.parse, ask_firmware.capture_smbios),
    Source("dmi-id", ask_firmware.capture_dmi_id, firmware.parse_dmi_id, ask_firmware.capture_dmi_id),
    Source("boot", ask_firmware.capture_boot, firmware.parse_boot, ask_firmware.capture_boot),
    Source("spd", ask_spd.capture, spd.parse),
    Source("edac", ask_edac.capture, edac.parse),
    Source("block", ask_block.capture, block.parse, ask_block.capture),
    Source("nvme", ask_nvme.capture, nvme.parse, ask_nvme.capture_identity, limit_s=SLOW_S),
    Source("ata", ask_ata.capture, ata.parse, ask_ata.capture_identity, limit_s=SLOW_S),
    Source("scsi", ask_scsi.capture, scsi.parse, ask_scsi.capture),
    Source("smartctl", ask_smartctl.capture, smartctl_json.parse_live, limit_s=SLOW_S + 2.0),
    Source("optical", ask_optical.capture, optical.parse, limit_s=8.0),
    Source("pci", ask_pci.capture, pci.parse, ask_pci.capture_devices),
    Source("nvidia-smi", ask_nvidia_smi.capture, nvidia_smi_xml.parse, limit_s=12.0),
    Source("usb", ask_usb.capture, usb.parse),
    Source("network", ask_network.capture, network.parse),
    Source("wireless", ask_wireless.capture, wireless.parse),
    Source("bluetooth", ask_bluetooth.capture, bluetooth.parse),
    Source("sound", ask_sound.capture, sound.parse),
    Source("displays", ask_displays.capture, displays.parse),
    Source("security", ask_security.capture, security.parse),
    Source("battery", ask_battery.capture, battery.parse),
    Source("sensors", ask_sensors.capture, sensors.parse),
    Source("kernel", ask_kernel.capture, kernel.parse),
    Source("contents", ask_contents.capture, contents.parse),
)


def outside_sources(names: Collection[str]) -> tuple[Source, ...]:
    """Return the sources of other packages that have these names.

    Raises Trouble for a name that no installed package offers, for one that is taken, and for a source
    written for another version of the agreement.
    """
    return tuple(_outside(name) for name in sorted(names))


def _outside(name: str) -> Source:
    from importlib import metadata  # costs as much as a reading, and few need it

    found = [entry for entry in metadata.entry_points(group=GROUP) if entry.name == name]
    if not found:
        raise Trouble(
            "no installed package offers this source", name, "Install it, or take it from the policy."
        )
    if len(found) > 1 or any(source.name == name for source in SOURCES):
        raise Trouble("two sources have this name", name, "Remove one of the packages.")
    source = found[0].load()
    if not isinstance(source, Source) or source.name != name:
        raise Trouble("this entry point is no source of that name", name, "Tell the package's authors.")
    if source.protocol != PROTOCOL:
        raise Trouble(
            f"this source is for protocol {source.protocol}, this tool has {PROTOCOL}",
            name,
            "Update the older.",
        )
    return replace(source, origin=_origin(found[0], source))


def _origin(entry: EntryPoint, source: Source) -> bytes:
    """Return which package the source is from, as JSON: name, version, digest of the file of its capture."""
    file = Path(source.capture.__code__.co_filename) if hasattr(source.capture, "__code__") else None
    digest = digest_of(file.read_bytes()) if file is not None and file.is_file() else None
    facts = {
        "entry_point": entry.value,
        "package": entry.dist.name if entry.dist is not None else None,
        "version": entry.dist.version if entry.dist is not None else None,
        "digest": digest,
    }
    import json

    return json.dumps(facts, sort_keys=True).encode() + b"\n"
