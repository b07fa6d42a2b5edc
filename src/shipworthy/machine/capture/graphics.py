"""Ask graphics drivers for what they tell of their card, and keep the lines of the list that names AMD's."""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister, read_file
from shipworthy.machine.parse.graphics import AMD, INTEL, NVIDIA, NVIDIA_VENDOR
from shipworthy.machine.raw import Reply
from shipworthy.machine.root import Root
from shipworthy.model.reading import SourceOutcome

AMDGPU_IDS = ("/usr/share/libdrm/amdgpu.ids", "/opt/amdgpu/share/libdrm/amdgpu.ids")
_AMD = (
    "mem_info_vram_total",
    "mem_info_vis_vram_total",
    "mem_info_vram_vendor",
    "vbios_version",
    "unique_id",
    "product_name",
    "product_number",
)
_AMD_AWAKE = ("pp_dpm_pcie", "pcie_replay_count")  # asking for these wakes a card
_INTEL = ("tile0/physical_vram_size_bytes", "tile0/gt0/freq0/rp0_freq")


def list_card(lister: Lister, folder: str, address: str, vendor: str, *, asleep: bool) -> None:
    """Ask what the driver of one card offers; of a vendor without such attributes only the common one."""
    lister.text(f"{folder}/boot_vga")
    if vendor == AMD:
        lister.texts(folder, _AMD if asleep else _AMD + _AMD_AWAKE)
    elif vendor == INTEL:
        lister.texts(folder, _INTEL)
    elif vendor == NVIDIA_VENDOR:
        lister.text(f"{NVIDIA}/{address}/information")
    else:
        lister.texts(folder, ("mem_info_vram_total", "product_name"))
        lister.text(f"{NVIDIA}/{address}/information")


def amdgpu_lines(root: Root, devices: set[str]) -> Reply:
    """Return the lines of AMD's list about the fitted devices (four hexadecimal digits each)."""
    for locator in AMDGPU_IDS:
        answer = read_file(root, locator)
        if answer.outcome is not SourceOutcome.ABSENT:
            break
    if answer.outcome is not SourceOutcome.READ:
        return Reply("pci.amdgpu-ids", locator, answer.outcome, b"", answer.error)
    heads = tuple(device.upper().encode() + b"," for device in sorted(devices))
    lines = b"".join(line for line in answer.data.splitlines(keepends=True) if line.upper().startswith(heads))
    outcome = SourceOutcome.READ if lines else SourceOutcome.EMPTY
    return Reply("pci.amdgpu-ids", locator, outcome, lines)
