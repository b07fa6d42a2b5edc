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

from shipworthy.machine.capture import ata as capture_ata
from shipworthy.machine.capture import block as capture_block
from shipworthy.machine.capture import cpu as capture_cpu
from shipworthy.machine.capture import displays as capture_displays
from shipworthy.machine.capture import firmware as capture_firmware
from shipworthy.machine.capture import kernel as capture_kernel
from shipworthy.machine.capture import memory as capture_memory
from shipworthy.machine.capture import network as capture_network
from shipworthy.machine.capture import nvme as capture_nvme
from shipworthy.machine.capture import pci as capture_pci
from shipworthy.machine.capture import sensors as capture_sensors
from shipworthy.machine.parse import (
    ata,
    block,
    cpu,
    displays,
    firmware,
    kernel,
    memory,
    network,
    nvme,
    pci,
    smbios,
)
from shipworthy.machine.parse import sensors as parse_sensors
from shipworthy.machine.raw import Parsed, Reply
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble, digest_of

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

PROTOCOL = 1
GROUP = "shipworthy.sources"

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
    Source("cpuinfo", capture_cpu.capture_cpuinfo, cpu.parse_cpuinfo, capture_cpu.capture_cpuinfo),
    Source("topology", capture_cpu.capture_topology, cpu.parse_topology, capture_cpu.capture_topology),
    Source(
        "power-limits",
        capture_cpu.capture_power_limits,
        cpu.parse_power_limits,
        capture_cpu.capture_power_limits,
    ),
    Source("meminfo", capture_memory.capture, memory.parse),
    Source("smbios", capture_firmware.capture_smbios, smbios.parse, capture_firmware.capture_smbios),
    Source("dmi-id", capture_firmware.capture_dmi_id, firmware.parse_dmi_id, capture_firmware.capture_dmi_id),
    Source("boot", capture_firmware.capture_boot, firmware.parse_boot),
    Source("block", capture_block.capture, block.parse, capture_block.capture),
    Source("nvme", capture_nvme.capture, nvme.parse, capture_nvme.capture_identity),
    Source("ata", capture_ata.capture, ata.parse, capture_ata.capture_identity),
    Source("pci", capture_pci.capture, pci.parse, capture_pci.capture_devices),
    Source("network", capture_network.capture, network.parse),
    Source("displays", capture_displays.capture, displays.parse),
    Source("sensors", capture_sensors.capture, parse_sensors.parse),
    Source("kernel", capture_kernel.capture, kernel.parse),
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
