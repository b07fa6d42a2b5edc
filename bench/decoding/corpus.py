"""What the mutator spoils: real tables where the reference data is there, and always pages of our own making.

Of our own are what the simulated unit's parts answer, and the pages of `corpus_pages`.
"""

from __future__ import annotations

import random
import struct
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from decoding import corpus_pages as pages
from shipworthy.sim import parts, pci
from shipworthy.sim.edid import edid
from shipworthy.sim.nvme import identify_controller, identify_namespace, smart_log


@dataclass(frozen=True)
class Fed:
    """What a decoder is fed. real: of the reference data; empty without it."""

    own: list[bytes]
    real: list[bytes]

    def page(self, chance: random.Random) -> bytes:
        """Return a page: every third is of our own, as few real ones have the rarer structures."""
        return chance.choice(self.own if not self.real or chance.random() < 0.3 else self.real)


def corpora(data: Path) -> dict[str, Fed]:
    """Return what each decoder is fed, by its name: always in the same order. data: the reference data."""
    real = _real(data) if data.is_dir() else {}
    return {name: Fed(own, real.get(name, [])) for name, own in _own().items()}


def _own() -> dict[str, list[bytes]]:
    drive, wear = parts.fitted().drive, parts.fitted().wear
    displays = [edid(parts.fitted().screen), pages.display(), pages.further_display()]
    displays.append(b"\n".join(displays[1][at : at + 16].hex(" ").encode() for at in range(0, 384, 16)))
    return {
        "smbios": list(pages.smbios_tables()),
        "edid": displays,
        "spd": [pages.ddr3(), pages.ddr4(), pages.ddr5()],
        "nvme-controller": [identify_controller(drive)],
        "nvme-namespace": [identify_namespace(drive)],
        "nvme-health": [smart_log(wear, temperature_k=311)],
        "ata-identify": [pages.ata_identify()],
        "ata-statistics": [pages.ata_statistics()],
        "ata-smart": [pages.ata_smart()],
        "pci-config": [*(pci.config_space(function) for function in pci.FUNCTIONS), pages.pci_express()],
        "usb-descriptors": [pages.usb_hub(), pages.usb_sound()],
        "usb-capabilities": [pages.usb_capabilities()],
        "ethtool": [pages.ethtool_settings(), struct.pack("<II", 0x20, 6) + bytes.fromhex("02005e10000f")],
        "optical": [pages.optical_configuration()],
        "scsi": list(pages.scsi_pages()),
        "privileged-stream": [pages.privileged_stream()],
    }


def _real(data: Path) -> dict[str, list[bytes]]:
    tables = sorted((data / "smbios-raw").rglob("*"))
    found = {
        "smbios": [t.read_bytes() for t in tables if t.suffix in (".dmi", ".bin", ".dmp", ".dmidump")],
        "edid": list(_of_archives(data / "edid", "*.tar.xz", (".bin", ".edid"))),
        "pci-config": list(_of_archives(data / "linux-sysfs/hwloc/linux", "*+*.tar.bz2", ("/config",))),
        "usb-descriptors": list(
            _of_archives(data / "linux-sysfs/hwloc/linux", "*+*.tar.bz2", ("/descriptors",))
        ),
        "scsi": list(_of_archives(data / "linux-sysfs/util-linux/dumps", "simple-*.tar.xz", _SCSI_FILES)),
    }
    image = data / "check-values/spd-ddr4-example.hex"
    return found | {"spd": [bytes.fromhex(image.read_text("ascii"))] if image.is_file() else []}


_SCSI_FILES = ("/inquiry", "/vpd_pg80", "/vpd_pg83", "/vpd_pgb1")


def _of_archives(folder: Path, pattern: str, endings: tuple[str, ...]) -> Iterator[bytes]:
    """Yield the files with such a name in all such archives, each content once."""
    seen: set[bytes] = set()
    for archive in sorted(folder.glob(pattern)):
        with tarfile.open(archive) as tar:
            for member in tar:
                file = tar.extractfile(member) if member.isfile() and member.name.endswith(endings) else None
                content = b"" if file is None else file.read()
                if content and content not in seen:
                    seen.add(content)
                    yield content
