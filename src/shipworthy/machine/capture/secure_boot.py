"""Ask in which mode the firmware started the system, and whether it let only signed code start.

Variables of the firmware are open to every account. Only those named here are asked for: each answer can
cost the firmware a millisecond.
"""

from __future__ import annotations

from shipworthy.machine.capture.files import Lister

EFI = "/sys/firmware/efi"
VARIABLES = f"{EFI}/efivars"
GLOBAL = "8be4df61-93ca-11d2-aa0d-00e098032b8c"  # EFI_GLOBAL_VARIABLE
SHIM = "605dab50-e046-4300-abb6-3dd810dd8b23"
LOCKDOWN = "/sys/kernel/security/lockdown"
NAMES = (
    f"BootCurrent-{GLOBAL}",
    f"SecureBoot-{GLOBAL}",
    f"SetupMode-{GLOBAL}",
    f"PK-{GLOBAL}",
    f"MokSBStateRT-{SHIM}",
)


def list_secure_boot(lister: Lister) -> None:
    lister.text(f"{EFI}/fw_platform_size")
    for name in NAMES:
        lister.binary(f"{VARIABLES}/{name}")
