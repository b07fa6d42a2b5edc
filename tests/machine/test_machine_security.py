"""The security module, Secure Boot and the kernel's lockdown."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.machine.capture import firmware as capture_firmware
from shipworthy.machine.capture import security as capture_security
from shipworthy.machine.parse import firmware, security
from shipworthy.model.words import Absent, PartKind, RemarkKind
from tests.machine.devices import by_place, failing, files, read
from tests.machine.recorded import link, write

MODULE = "sys/devices/platform/MSFT0101:00"
EFI = "sys/firmware/efi"
VARIABLES = f"{EFI}/efivars"
GLOBAL = "8be4df61-93ca-11d2-aa0d-00e098032b8c"
SHIM = "605dab50-e046-4300-abb6-3dd810dd8b23"
ATTRIBUTES = b"\x06\0\0\0"


def module(root: Path, device: str = MODULE, **texts: str) -> None:
    files(root, f"{device}/tpm/tpm0", texts)
    link(root, f"{device}/tpm/tpm0/device", device)
    link(root, "sys/class/tpm/tpm0", f"{device}/tpm/tpm0")


def test_a_module_of_version_2(tmp_path: Path) -> None:
    module(tmp_path, tpm_version_major="2")
    for bank in ("pcr-sha1", "pcr-sha256"):
        (tmp_path / f"{MODULE}/tpm/tpm0/{bank}").mkdir()
    write(tmp_path, "sys/bus/acpi/drivers/tpm_crb/uevent", "")
    link(tmp_path, f"{MODULE}/driver", "sys/bus/acpi/drivers/tpm_crb")
    parsed = read(tmp_path, capture_security.capture, security.parse)
    assert [s.kind for s in parsed.sightings] == [PartKind.SECURITY_MODULE]
    assert by_place(parsed) == {
        "acpi:MSFT0101:00": {
            "kernel_name": "tpm0",
            "tpm_version": "2.0",
            "driver": "tpm_crb",
            "maker": Absent.NOT_OFFERED,
            "firmware_version": Absent.NOT_OFFERED,
            "pcr_banks": "sha1, sha256",
            "acpi_id": Absent.NOT_OFFERED,
        }
    }


def test_a_module_of_version_1_says_its_maker(tmp_path: Path) -> None:
    device = "sys/devices/pnp0/00:05"
    module(tmp_path, device)
    caps = "Manufacturer: 0x49465800\nTCG version: 1.2\nFirmware version: 4.40"
    files(tmp_path, device, {"caps": caps})
    (told,) = by_place(read(tmp_path, capture_security.capture, security.parse)).items()
    assert told[0] == "tpm:0"
    assert (told[1]["tpm_version"], told[1]["maker"], told[1]["firmware_version"]) == ("1.2", "IFX", "4.40")


def test_an_older_kernel_tells_the_version_by_the_description_alone(tmp_path: Path) -> None:
    module(tmp_path)
    files(tmp_path, MODULE, {"description": "TPM 2.0 Device"})
    (told,) = by_place(read(tmp_path, capture_security.capture, security.parse)).values()
    assert told["tpm_version"] == "2.0"


def test_a_module_that_does_not_answer_is_there_and_not_readable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    module(tmp_path, tpm_version_major="2")
    failing(monkeypatch, "tpm_version_major")
    (told,) = by_place(read(tmp_path, capture_security.capture, security.parse)).values()
    assert (told["kernel_name"], told["tpm_version"]) == ("tpm0", Absent.NOT_READABLE)


def test_a_machine_without_a_module_has_no_part_of_it(tmp_path: Path) -> None:
    assert read(tmp_path, capture_security.capture, security.parse).sightings == ()
    (tmp_path / "sys/class/tpm").mkdir(parents=True)
    assert read(tmp_path, capture_security.capture, security.parse).sightings == ()


def uefi(root: Path, secure: bytes = b"\1", setup: bytes = b"\0", key: bytes = b"key") -> None:
    write(root, f"{EFI}/fw_platform_size", "64\n")
    write(root, f"{VARIABLES}/BootCurrent-{GLOBAL}", ATTRIBUTES + b"\1\0")
    write(root, f"{VARIABLES}/SecureBoot-{GLOBAL}", ATTRIBUTES + secure)
    write(root, f"{VARIABLES}/SetupMode-{GLOBAL}", ATTRIBUTES + setup)
    if key:
        write(root, f"{VARIABLES}/PK-{GLOBAL}", b"\x27\0\0\0" + key)
    write(root, "sys/kernel/security/lockdown", "none [integrity] confidentiality\n")


def boot(root: Path) -> dict[str, object]:
    told = by_place(read(root, capture_firmware.capture_boot, firmware.parse_boot))
    return {**told["kernel"], **told["firmware"]}


def test_secure_boot_that_is_on(tmp_path: Path) -> None:
    uefi(tmp_path)
    assert boot(tmp_path) == {
        "mode": "UEFI",
        "secure_boot": True,
        "setup_mode": False,
        "platform_key": True,
        "shim_validation": Absent.NOT_OFFERED,
        "uefi_bits": 64,
        "lockdown": "integrity",
    }


def test_a_firmware_without_keys_is_in_setup_mode(tmp_path: Path) -> None:
    uefi(tmp_path, secure=b"\0", setup=b"\1", key=b"")
    told = boot(tmp_path)
    assert (told["secure_boot"], told["setup_mode"], told["platform_key"]) == (False, True, False)


def test_a_kernel_that_no_boot_entry_started_has_variables_all_the_same(tmp_path: Path) -> None:
    """Seen on a virtual machine whose host starts the kernel."""
    uefi(tmp_path, secure=b"\0", setup=b"\1", key=b"")
    (tmp_path / f"{VARIABLES}/BootCurrent-{GLOBAL}").unlink()
    told = boot(tmp_path)
    assert (told["platform_key"], told["shim_validation"]) == (False, Absent.NOT_OFFERED)


@pytest.mark.parametrize(("off", "validates"), [(b"\1", False), (b"\0", True)])
def test_secure_boot_that_a_loader_was_told_to_ignore(tmp_path: Path, off: bytes, validates: bool) -> None:
    uefi(tmp_path)
    write(tmp_path, f"{VARIABLES}/MokSBStateRT-{SHIM}", ATTRIBUTES + off)
    told = boot(tmp_path)
    assert (told["secure_boot"], told["shim_validation"]) == (True, validates)


def test_variables_that_cannot_be_reached_are_not_an_open_firmware(tmp_path: Path) -> None:
    (tmp_path / VARIABLES).mkdir(parents=True)
    told = boot(tmp_path)
    assert told["mode"] == "UEFI"
    names = ("secure_boot", "setup_mode", "platform_key")
    assert {told[name] for name in names} == {Absent.NOT_READABLE}


def test_a_variable_that_fails_is_not_readable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    uefi(tmp_path)
    failing(monkeypatch, f"SecureBoot-{GLOBAL}")
    told = boot(tmp_path)
    assert (told["secure_boot"], told["setup_mode"]) == (Absent.NOT_READABLE, False)


@pytest.mark.parametrize(
    ("value", "kind", "detail"),
    [
        (b"\2", RemarkKind.BAD_VALUE, "2"),
        (b"", RemarkKind.BAD_LENGTH, "4 bytes"),
        (b"\1\0", RemarkKind.BAD_LENGTH, "6 bytes"),
    ],
)
def test_a_variable_that_is_neither_on_nor_off_is_named(
    tmp_path: Path, value: bytes, kind: RemarkKind, detail: str
) -> None:
    uefi(tmp_path, secure=value)
    parsed = read(tmp_path, capture_firmware.capture_boot, firmware.parse_boot)
    assert by_place(parsed)["firmware"]["secure_boot"] is Absent.IMPLAUSIBLE
    assert [(r.kind, r.where, r.detail) for r in parsed.remarks] == [(kind, "SecureBoot", detail)]


def test_a_legacy_firmware_has_no_secure_boot_to_be_off(tmp_path: Path) -> None:
    (tmp_path / "sys/firmware/acpi").mkdir(parents=True)
    told = boot(tmp_path)
    assert (told["mode"], told["secure_boot"], told["setup_mode"]) == (
        "legacy",
        Absent.NOT_FITTED,
        Absent.NOT_FITTED,
    )
    assert told["lockdown"] is Absent.NOT_OFFERED


def test_where_neither_mode_is_proved_nothing_is_said_of_secure_boot(tmp_path: Path) -> None:
    (tmp_path / "sys/firmware/memmap").mkdir(parents=True)
    assert boot(tmp_path)["secure_boot"] is Absent.NOT_OFFERED
