"""The privileged capture: what it asks, what it streams, and what of a stream the other half refuses."""

from __future__ import annotations

import ast
import ctypes
import errno
import fcntl
import gzip
import io
import json
import os
import random
import subprocess
import sys
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

from shipworthy.machine.capture import commands, files, optical, privileged, unpack
from shipworthy.machine.capture.ata import takes_ata_commands
from shipworthy.machine.capture.files import Answer, Lister, file_reply, read_file
from shipworthy.machine.parse.pci import config as pci_config
from shipworthy.machine.root import Root
from shipworthy.model.base import Trouble
from shipworthy.model.reading import SourceOutcome
from tests.machine.recorded import build, link, write

REPORT = "replies/privileged.json"
GOOD = {"replies/nvme0/smart-log.bin": b"\x02" * 512, "dmesg.txt": b"<6>[    0.000000] Linux\n"}


# The file itself


def test_it_imports_nothing_but_the_standard_library_and_is_one_file() -> None:
    tree = ast.parse(Path(privileged.__file__).read_text())
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    names = {alias.name for node in imports if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module or "" for node in imports if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names
    assert len(Path(privileged.__file__).read_text().splitlines()) < 350


def run(*arguments: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-I", privileged.__file__, *arguments]
    return subprocess.run(command, capture_output=True, timeout=90, check=False)


def test_run_alone_on_this_machine_its_stream_unpacks(tmp_path: Path) -> None:
    done = run()
    assert done.returncode == 0, done.stderr
    unpack.unpack(io.BytesIO(done.stdout), tmp_path / "got")
    report = json.loads((tmp_path / "got" / REPORT).read_text())
    assert report["version"] == privileged.VERSION
    assert report["root"] is (os.geteuid() == 0)
    assert all(set(row) == {"name", "error"} for row in report["not_read"])


@pytest.mark.parametrize("argument", ["/etc/shadow", "--help", ""])
def test_it_takes_no_argument(argument: str) -> None:
    done = run(argument)
    assert (done.returncode, done.stdout) == (2, b"")


def test_a_reader_that_ends_early_is_no_traceback() -> None:
    command = [sys.executable, "-I", privileged.__file__]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert child.stdout is not None and child.stderr is not None
    child.stdout.close()
    word = child.stderr.read()
    child.stderr.close()
    assert child.wait(90) == 1 and b"Traceback" not in word


# What it asks: a recorded tree in place of the machine, and the kernel's answers caught at the door


class Devices:
    """Stands for ioctl: keeps each request, and answers with a status or with the byte 0xA5."""

    def __init__(self, *, asleep: bool = False, silent: str = "") -> None:
        self.asleep, self.silent = asleep, silent
        self.sent: list[tuple[str, bytes]] = []

    def __call__(self, descriptor: int, request: int, argument: ctypes.Structure, mutate: bool) -> int:
        node = Path(f"/proc/self/fd/{descriptor}").readlink().name
        if isinstance(argument, privileged.NvmeAdminCommand):
            self.sent.append((node, bytes((argument.opcode,))))
            if node == self.silent:
                raise OSError(errno.ETIMEDOUT, "timed out")
            ctypes.memset(argument.addr, 0xA5, argument.data_len)
            return 0
        assert isinstance(argument, privileged.SgIoHeader)
        cdb = ctypes.string_at(argument.cmdp, argument.cmd_len)
        self.sent.append((node, cdb))
        assert 0 < argument.timeout <= 10_000
        if node == self.silent:
            argument.host_status = 0x03
            return 0
        if argument.dxfer_len:
            ctypes.memset(argument.dxferp, 0xA5, argument.dxfer_len)
            argument.resid = 800 if cdb[0] == 0x46 else 0
            return 0
        count = 0x00 if self.asleep else 0xFF
        sense = bytes((0x72, 0x01, 0, 0x1D, 0, 0, 0, 14, 0x09, 12, 0, 0, 0, count)) + bytes(8)
        ctypes.memmove(argument.sbp, sense, len(sense))
        argument.status, argument.driver_status, argument.sb_len_wr = 0x02, 0x08, len(sense)
        return 0


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = build(tmp_path / "machine")
    for node in ("nvme0", "nvme0n1", "sda", "sdb", "sr0"):
        write(root, f"dev/{node}", b"")
    write(root, "sys/class/nvme/nvme0/state", "live\n")
    write(root, "sys/block/sr0/size", "2097151\n")
    write(root, "sys/class/dmi/id/product_serial", "NORVIK-0412\n")
    write(root, "sys/class/powercap/intel-rapl:0/energy_uj", "123456\n")
    monkeypatch.setattr(privileged, "BASE", f"{root}/")
    return root


def members(
    monkeypatch: pytest.MonkeyPatch, devices: Devices
) -> tuple[dict[str, bytes], list[dict[str, str]]]:
    monkeypatch.setattr(fcntl, "ioctl", devices)
    capture = privileged.Capture()
    found = dict(capture.members())
    return found, capture.not_read


READ_ONLY = {  # of what is sent: NVMe Identify, Get Log Page; GET CONFIGURATION; ATA and SMART's features
    (0x06,),
    (0x02,),
    (0x46,),
    (0x85, 0xEC, 0x00),
    (0x85, 0x2F, 0x00),
    (0x85, 0xE5, 0x00),
    (0x85, 0xB0, 0xD0),
    (0x85, 0xB0, 0xD1),
    (0x85, 0xB0, 0xDA),
}


def test_every_command_only_reads_and_every_name_is_in_the_grammar(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = Devices()
    found, not_read = members(monkeypatch, devices)
    sent = {(cdb[0], cdb[14], cdb[4]) if cdb[0] == 0x85 else (cdb[0],) for _, cdb in devices.sent}
    assert sent == READ_ONLY
    assert all(unpack.NAMES.fullmatch(name) for name in found)
    assert not_read == []
    assert found["sys/class/dmi/id/product_serial"] == b"NORVIK-0412\n"
    assert found["sys/class/powercap/intel-rapl:0/energy_uj"] == b"123456\n"
    assert found["replies/nvme0n1/identify-namespace.bin"] == b"\xa5" * 4096
    assert len(found["replies/sr0/get-configuration.bin"]) == 1024 - 800  # as much as came
    assert [cdb.hex() for node, cdb in devices.sent if node == "sr0"] == ["46000000000000040000"]
    assert len(found["replies/sda/ata-smart-status.bin"]) == 22


def test_what_a_recorded_machine_is_read_by_has_the_same_names(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The recorded machine of the tests, whose files the sources read, holds names that the capture gives."""
    found, _ = members(monkeypatch, Devices())
    recorded = {str(p.relative_to(machine)) for p in (machine / "replies").rglob("*.bin")}
    assert recorded and recorded <= set(found)


def test_a_drive_that_sleeps_is_not_woken(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found, _ = members(monkeypatch, Devices(asleep=True))
    names = {name for name in found if name.startswith("replies/sda/")}
    assert names == {f"replies/sda/{n}.bin" for n in ("ata-power-mode", "ata-identify")}


@pytest.mark.parametrize(
    ("path", "removable", "vendor", "wanted"),
    [
        ("sys/devices/pci0000:00/0000:00:14.0/usb2/2-1/2-1:1.0/host6/6:0:0:0/block/sdb", "0", "Tarn", True),
        ("sys/devices/pci0000:00/0000:00:14.0/usb2/2-1/2-1:1.0/host6/6:0:0:0/block/sdb", "1", "Tarn", False),
        ("sys/devices/pci0000:00/0000:02:00.0/host7/7:0:0:0/block/sdb", "0", "Tarn", False),
        ("sys/devices/pci0000:00/0000:02:00.0/host7/7:0:0:0/block/sdb", "0", "ATA     ", True),
    ],
)
def test_ata_commands_go_where_the_tool_itself_sends_them(
    path: str,
    removable: str,
    vendor: str,
    wanted: bool,
    machine: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    write(machine, f"{path}/removable", f"{removable}\n")
    write(machine, f"{path}/device/vendor", f"{vendor}\n")
    link(machine, "sys/block/sdb", path)
    found, _ = members(monkeypatch, Devices())
    assert ("replies/sdb/ata-identify.bin" in found) is wanted
    assert any(name.startswith("replies/sdb/") for name in found) is wanted  # and nothing else goes there
    assert takes_ata_commands(Root(machine), "sdb", f"/{path}") is wanted


def test_a_drive_that_does_not_answer_is_asked_once_and_the_rest_stands(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = Devices(silent="sda")
    found, not_read = members(monkeypatch, devices)
    assert [node for node, _ in devices.sent].count("sda") == 1
    assert "replies/nvme0/smart-log.bin" in found
    words = [row["error"] for row in not_read if row["name"].startswith("replies/sda/")]
    assert words[0] == "SCSI status 0x00, host 0x03" and set(words[1:]) == {
        "not asked, as the drive did not answer before"
    }


def test_after_its_time_nothing_more_is_asked(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(privileged, "LONGEST_S", -1.0)
    devices = Devices()
    found, not_read = members(monkeypatch, devices)
    assert found == {} and devices.sent == [] and len(not_read) > 10


def test_a_file_that_is_none_or_too_large_is_named(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    serial = machine / "sys/class/dmi/id/product_serial"
    serial.unlink()
    serial.mkdir()
    (machine / "sys/firmware/dmi/tables/DMI").write_bytes(bytes(privileged.MOST_BYTES + 1))
    found, not_read = members(monkeypatch, Devices())
    errors = {row["name"]: row["error"] for row in not_read}
    assert errors["sys/class/dmi/id/product_serial"] == "EISDIR"
    assert "more than" in errors["sys/firmware/dmi/tables/DMI"]
    assert "sys/firmware/dmi/tables/DMI" not in found


def test_sense_data_of_both_kinds_and_cut_short_tell_sleep() -> None:
    descriptor = bytes((0x72, 1, 0, 0x1D, 0, 0, 0, 14, 9, 12, 0, 0, 0))
    assert privileged.is_asleep(descriptor + b"\x00" + bytes(8))
    assert not privileged.is_asleep(descriptor + b"\xff" + bytes(8))
    assert privileged.is_asleep(bytes((0x70, 0, 1, 0x00, 0x50, 0, 0x00)) + bytes(5) + b"\x00\x1d")
    assert not privileged.is_asleep(bytes((0x70, 0, 1, 0x00, 0x50, 0, 0x80)) + bytes(5) + b"\x00\x1d")
    assert not privileged.is_asleep(bytes((0x70, 0, 5)) + bytes(9) + b"\x20\x00")  # an unknown command
    assert not privileged.is_asleep(b"") and not privileged.is_asleep(descriptor[:9])


def config_space() -> bytes:
    """A PCI Express function: power management, express (version 2), error reporting, serial number."""
    space = bytearray(b"\x5a" * 4096)  # what is not defined is not zero
    space[0:64] = bytes.fromhex("de10041c07001000a1000003") + bytes(52)
    space[0x34] = 0x40
    space[0x40:0x48] = bytes((0x01, 0x50, 3, 0, 0, 0, 0, 0))
    space[0x50:0x8C] = bytes((0x10, 0x00, 0x02, 0x00)) + bytes(0x3C - 4)
    space[0x5C:0x60] = (16 << 4 | 4).to_bytes(4, "little")
    space[0x62:0x64] = (8 << 4 | 3).to_bytes(2, "little")
    space[0x100:0x12C] = (0x0001 | 2 << 16 | 0x200 << 20).to_bytes(4, "little") + bytes(40)
    space[0x200:0x20C] = (0x0003 | 1 << 16).to_bytes(4, "little") + bytes(range(8))
    return bytes(space)


def test_of_a_configuration_space_the_defined_registers_are_read_and_say_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(privileged, "BASE", f"{tmp_path}/")
    whole = config_space()
    write(tmp_path, "sys/bus/pci/devices/0000:01:00.0/config", whole)
    kept = privileged._configuration_space("sys/bus/pci/devices/0000:01:00.0/config")
    wanted, got = (pci_config.decode(pci_config.from_bytes(space)) for space in (whole, kept))
    assert wanted is not None and wanted == got
    assert wanted.express is not None and wanted.express.link_width == 8
    assert kept[0x8C:0x100] == bytes(0x100 - 0x8C), "an undefined register was read"
    assert len(kept) == 0x20C


def test_a_looping_list_or_a_function_without_power_ends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(privileged, "BASE", f"{tmp_path}/")
    space = bytearray(config_space())
    space[0x41] = 0x40
    space[0x102:0x104] = (2 | 0x100 << 4).to_bytes(2, "little")
    name = "sys/bus/pci/devices/0000:01:00.0/config"
    write(tmp_path, name, bytes(space))
    assert len(privileged._configuration_space(name)) == 0x48
    write(tmp_path, name.replace("config", "power_state"), "D3cold\n")
    assert privileged._configuration_space(name) == b""


@pytest.mark.skipif(
    os.geteuid() != 0 or not Path("/sys/bus/pci/devices").is_dir(), reason="needs root and a PCI bus"
)
def test_on_this_machine_the_kept_registers_say_what_the_whole_space_does() -> None:
    for function in sorted(Path("/sys/bus/pci/devices").iterdir()):
        whole = (function / "config").read_bytes()
        kept = privileged._configuration_space(f"sys/bus/pci/devices/{function.name}/config")
        assert pci_config.decode(pci_config.from_bytes(kept)) == pci_config.decode(
            pci_config.from_bytes(whole)
        )


def test_the_tools_own_questions_go_through_the_same_functions(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = Devices()
    monkeypatch.setattr(fcntl, "ioctl", devices)
    node = f"{machine}/dev/sda"
    signature = commands.SMART_SIGNATURE
    smart = commands.ata_in(node, commands.ATA_SMART, feature=commands.SMART_READ_DATA, lba=signature)
    assert smart == Answer(SourceOutcome.READ, b"\xa5" * 512)
    assert devices.sent[-1][1] == bytes.fromhex("85080e00d00001000000 4f00c200b000".replace(" ", ""))
    assert commands.ata_sense(node, commands.ATA_CHECK_POWER_MODE).data[:2] == b"\x72\x01"
    assert devices.sent[-1][1] == bytes.fromhex("85062000000000000000000000 00e500".replace(" ", ""))
    assert len(commands.scsi_in(node, commands.GET_CONFIGURATION, 1024).data) == 224


# What the other half refuses


def stream(
    given: dict[str, bytes] | None = None,
    change: Callable[[tarfile.TarInfo], None] | None = None,
    form: int = tarfile.USTAR_FORMAT,
    **pax: str,
) -> bytes:
    """Return a stream of these members; `change` spoils the first one's header."""
    given = GOOD | {REPORT: b"{}"} if given is None else given
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w|", format=form, pax_headers=pax) as tar:
        for number, (name, data) in enumerate(given.items()):
            member = tarfile.TarInfo(name)
            member.size = len(data)
            if change is not None and number == 0:
                change(member)
            tar.addfile(member, io.BytesIO(data) if member.isreg() else None)
    return out.getvalue()


def spoiled(data: bytes, at: int, patch: bytes, *, resum: bool = True) -> bytes:
    """Return a stream whose first header has other bytes, with its checksum made right."""
    header = bytearray(data[:512])
    header[at : at + len(patch)] = patch
    if resum:
        total = sum(header[:148]) + 8 * 32 + sum(header[156:])
        header[148:156] = b"%06o\0 " % total
    return bytes(header) + data[512:]


def typed(kind: bytes, link: str = "") -> Callable[[tarfile.TarInfo], None]:
    def change(member: tarfile.TarInfo) -> None:
        member.type, member.linkname, member.size = kind, link, 0

    return change


def named(name: str) -> bytes:
    return stream({name: b"x", REPORT: b"{}"})


HOSTILE: dict[str, bytes] = {
    "a symbolic link": stream(change=typed(tarfile.SYMTYPE, "/etc")),
    "a symbolic link within": stream(change=typed(tarfile.SYMTYPE, "../../dmesg.txt")),
    "a hard link": stream(change=typed(tarfile.LNKTYPE, "/etc/shadow")),
    "a character device": stream(change=typed(tarfile.CHRTYPE)),
    "a block device": stream(change=typed(tarfile.BLKTYPE)),
    "a pipe": stream(change=typed(tarfile.FIFOTYPE)),
    "a folder": stream(change=typed(tarfile.DIRTYPE)),
    "a contiguous file": stream(change=typed(tarfile.CONTTYPE)),
    "a sparse file": spoiled(stream(), 156, b"S"),
    "an old kind of file": spoiled(stream(), 156, b"\0"),
    "a regular file with a link's name": spoiled(stream(), 157, b"/etc/passwd"),
    "a pax header": stream({"dmesg.txt": b"x", REPORT: b"{}", "a" * 120: b""}, form=tarfile.PAX_FORMAT),
    "a global pax header": stream(form=tarfile.PAX_FORMAT, path="/etc/passwd"),
    "a long name of GNU": stream({"a" * 120: b"x", REPORT: b"{}"}, form=tarfile.GNU_FORMAT),
    "GNU's own format": stream(form=tarfile.GNU_FORMAT),
    "a name in two pieces": stream({f"sys/{'a' * 90}/{'b' * 90}": b"x", REPORT: b"{}"}),
    "a prefix before a good name": spoiled(stream(), 345, b"../../outside"),
    "an absolute name": named("/etc/shipworthy"),
    "a name that climbs": named("../outside"),
    "a good name that climbs": named("replies/nvme0/../../../outside.bin"),
    "a climbing drive": named("replies/../privileged.json"),
    "a name with a dot": named("./dmesg.txt"),
    "a name with a doubled stroke": named("replies//privileged.json"),
    "a name that ends in a line end": named("dmesg.txt\n"),
    "a name of another case": named("DMESG.TXT"),
    "a name with a stroke of Windows": named("replies\\nvme0\\x.bin"),
    "a name with signs for the terminal": named("\x1b[2Jdmesg.txt"),
    "a name with a zero byte": spoiled(stream(), 7, b"\0"),
    "a name that is not ASCII": named("replies/nvme\u0660/x.bin"),
    "a file that nobody asked for": named("sys/class/dmi/id/board_vendor"),
    "an empty name": spoiled(stream(), 0, bytes(100)),
    "a huge file": spoiled(stream(), 124, b"00040000000\0"),
    "a huge file of GNU's numbers": spoiled(stream(), 124, b"\x80" + bytes(7) + b"\x7f\xff\xff\xff"),
    "a size that is no number": spoiled(stream(), 124, b"-0000000001\0"),
    "a size of nothing": spoiled(stream(), 124, bytes(12)),
    "a wrong sum": spoiled(stream(), 136, b"7", resum=False),
    "a large file": stream({"dmesg.txt": bytes(unpack.MOST_BYTES + 1), REPORT: b"{}"}),
    "too many files": stream(
        {f"replies/nvme{n % 10000}/{'x' if n < 10000 else 'y'}.bin": b"" for n in range(4001)} | {REPORT: b""}
    ),
    "too many bytes": stream(
        {f"replies/sda/x{n}.bin": bytes(unpack.MOST_BYTES) for n in range(17)} | {REPORT: b""}
    ),
    "no report at its end": stream(GOOD),
    "more behind its end": stream() + b"x" * 512,
    "much more behind its end": stream() + bytes(1 << 20),
    "nothing": b"",
    "zeros alone": bytes(10240),
    "noise": random.Random("privileged/noise").randbytes(10240),
    "text": b"sudo: a password is required\n" * 40,
    "a packed stream": gzip.compress(stream()),
}


def doubled() -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w|", format=tarfile.USTAR_FORMAT) as tar:
        for name in ("dmesg.txt", REPORT, "dmesg.txt"):
            member = tarfile.TarInfo(name)
            member.size = 2
            tar.addfile(member, io.BytesIO(b"{}"))
    return out.getvalue()


def hidden() -> bytes:
    data = bytearray(stream({"dmesg.txt": b"x", REPORT: b"{}"}))
    data[512 + 100] = 1
    return bytes(data)


def half_ended() -> bytes:
    """One block of zeros, and then something else."""
    end = stream().rindex(b"{}") + 512
    return stream()[: end + 512] + b"x" * 512 + bytes(9216)


HOSTILE["a file twice"] = doubled()
HOSTILE["bytes behind a file"] = hidden()
HOSTILE["half an end"] = half_ended()


def everything(folder: Path) -> dict[str, bytes | None]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_stream_is_refused_and_leaves_nothing(kind: str, tmp_path: Path) -> None:
    write(tmp_path, "outside", b"mine")
    (tmp_path / "here").mkdir()
    before = everything(tmp_path)
    with pytest.raises(Trouble) as caught:
        unpack.unpack(io.BytesIO(HOSTILE[kind]), tmp_path / "here" / "got")
    assert everything(tmp_path) == before
    assert str(caught.value).isprintable(), "signs that a terminal would obey"


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        ("a symbolic link", "no regular file"),
        ("a sparse file", "no regular file"),
        ("a global pax header", "no regular file"),
        ("a name that climbs", "a name that the capture never gives"),
        ("an absolute name", "a name that the capture never gives"),
        ("a file twice", "names a file twice"),
        ("a wrong sum", "no tar as the capture writes it"),
        ("a large file", "more than 4194304 bytes"),
        ("a huge file", "more than 4194304 bytes"),
        ("too many files", "more than any machine"),
        ("bytes behind a file", "hides bytes"),
        ("half an end", "does not end"),
        ("nothing", "breaks off"),
    ],
)
def test_it_is_said_what_was_wrong(kind: str, word: str, tmp_path: Path) -> None:
    with pytest.raises(Trouble, match=word):
        unpack.unpack(io.BytesIO(HOSTILE[kind]), tmp_path / "got")


def test_a_stream_that_breaks_off_anywhere_is_refused(tmp_path: Path) -> None:
    whole = stream()
    ends = whole.rindex(b"{}") + 512  # behind the last member's block begin the zeros
    for size in range(0, ends, 97):
        with pytest.raises(Trouble):
            unpack.unpack(io.BytesIO(whole[:size]), tmp_path / "got")
    assert everything(tmp_path) == {}


def test_any_flipped_byte_of_a_header_is_refused_or_of_no_consequence(tmp_path: Path) -> None:
    """What unpacks has only names of the grammar, below the folder, whatever byte was changed."""
    whole = stream()
    rng = random.Random("privileged/flip")
    for number in range(400):
        data = bytearray(whole)
        at = rng.randrange(512)
        data[at] = rng.randrange(256)
        raw = bytes(data) if number % 2 else spoiled(bytes(data), 0, b"")
        try:
            unpack.unpack(io.BytesIO(raw), tmp_path / f"got{number}")
        except Trouble:
            assert not (tmp_path / f"got{number}").exists()
            continue
        found = [p for p in (tmp_path / f"got{number}").rglob("*") if not p.is_dir()]
        assert all(p.is_file() and not p.is_symlink() for p in found)
        names = [str(p.relative_to(tmp_path / f"got{number}")) for p in found]
        assert all(unpack.NAMES.fullmatch(name) for name in names)
    assert {p.name[:3] for p in tmp_path.iterdir()} <= {"got"}


def test_a_huge_member_is_refused_before_it_is_read(tmp_path: Path) -> None:
    class Pipe(io.RawIOBase):
        """Gives a header that promises 4 GiB, and counts what is taken."""

        def __init__(self) -> None:
            self.taken = 0
            self.head = spoiled(stream(), 124, b"37777777777\0")[:512]

        def readable(self) -> bool:
            return True

        def read(self, size: int = -1) -> bytes:
            piece = self.head[self.taken : self.taken + size] or bytes(size)
            self.taken += len(piece)
            return piece

    pipe = Pipe()
    with pytest.raises(Trouble):
        unpack.unpack(pipe, tmp_path / "got")  # type: ignore[arg-type]
    assert pipe.taken == 512


def test_a_sound_stream_in_small_pieces_unpacks_for_its_owner_alone(tmp_path: Path) -> None:
    class Trickle(io.BytesIO):
        def read(self, size: int | None = -1, /) -> bytes:
            return super().read(min(7, size) if size and size > 0 else size)

    unpack.unpack(Trickle(stream()), tmp_path / "got")
    found = everything(tmp_path / "got")
    assert {name: data for name, data in found.items() if data is not None} == GOOD | {REPORT: b"{}"}
    assert (tmp_path / "got").stat().st_mode & 0o777 == 0o700
    assert {p.stat().st_mode & 0o777 for p in (tmp_path / "got").rglob("*") if p.is_file()} == {0o600}


@pytest.mark.parametrize("kind", ["folder", "file", "link to a folder", "dangling link"])
def test_what_lies_at_the_folders_place_is_left_alone(kind: str, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    place = tmp_path / "got"
    if kind == "folder":
        place.mkdir()
    elif kind == "file":
        place.write_text("mine")
    else:
        place.symlink_to("elsewhere" if kind.startswith("link") else "nowhere")
    before = everything(tmp_path)
    with pytest.raises(Trouble, match="already"):
        unpack.unpack(io.BytesIO(stream()), place)
    assert everything(tmp_path) == before


def test_a_place_where_no_folder_can_be_made_is_named(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="no folder can be made"):
        unpack.unpack(io.BytesIO(stream()), tmp_path / "not" / "there")


# How a reading uses it


def refusing(monkeypatch: pytest.MonkeyPatch, root: Root) -> None:
    """Let the machine at `root` refuse every file, as a kernel does to an account without rights."""
    opened = files._opened

    def refuse(asked: Root, locator: str) -> int:
        if asked.folder == root.folder:
            raise PermissionError(errno.EACCES, "refused")
        return opened(asked, locator)

    monkeypatch.setattr(files, "_opened", refuse)


def test_a_refused_file_is_taken_from_the_privileged_capture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, "kept/sys/class/dmi/id/product_serial", "NORVIK-0412\n")
    root = Root(tmp_path / "live", privileged=tmp_path / "kept")
    refusing(monkeypatch, root)
    serial = "/sys/class/dmi/id/product_serial"
    assert read_file(root, serial) == Answer(SourceOutcome.READ, b"NORVIK-0412\n", by_root=True)
    assert file_reply(root, "x", serial).by_root
    uuid = read_file(root, "/sys/class/dmi/id/product_uuid")
    assert (uuid.outcome, uuid.error, uuid.by_root) == (SourceOutcome.REFUSED, "EACCES", False)
    lister = Lister(root)
    lister.text("/sys/class/dmi/id/product_uuid")
    assert not lister.reply("dmi-id", "/nowhere").by_root
    lister.text(serial)
    assert lister.reply("dmi-id", "/nowhere").by_root


def test_a_file_that_can_be_read_is_never_taken_from_it(tmp_path: Path) -> None:
    write(tmp_path, "live/sys/x", "the machine's")
    write(tmp_path, "kept/sys/x", "the capture's")
    write(tmp_path, "kept/sys/y", "the capture's")
    root = Root(tmp_path / "live", privileged=tmp_path / "kept")
    assert read_file(root, "/sys/x") == Answer(SourceOutcome.READ, b"the machine's")
    assert read_file(root, "/sys/y").outcome is SourceOutcome.ABSENT


def test_a_link_in_the_unpacked_folder_leads_nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Unpacking makes none; somebody may have put one there since."""
    write(tmp_path, "secret", "not the machine's")
    (tmp_path / "kept/sys").mkdir(parents=True)
    (tmp_path / "kept/sys/x").symlink_to(tmp_path / "secret")
    root = Root(tmp_path / "live", privileged=tmp_path / "kept")
    refusing(monkeypatch, root)
    assert read_file(root, "/sys/x").outcome is SourceOutcome.FAILED
    assert root.privileged_path("/sys/x") is None


@pytest.mark.parametrize("outcome", [SourceOutcome.REFUSED, SourceOutcome.READ, SourceOutcome.FAILED])
def test_a_refused_command_is_taken_from_it_and_no_other(outcome: SourceOutcome, tmp_path: Path) -> None:
    write(tmp_path, "replies/nvme0/smart-log.bin", b"\x02" * 512)
    root = Root(Path("/"), privileged=tmp_path)
    live = ("/dev/nvme0 log 02h", Answer(outcome, error="EACCES"))
    locator, answer = commands.asked(root, "nvme0", "smart-log", lambda: live)
    if outcome is SourceOutcome.REFUSED:
        assert (locator, answer.by_root, len(answer.data)) == ("/replies/nvme0/smart-log.bin", True, 512)
    else:
        assert (locator, answer) == live
    assert commands.asked(root, "nvme1", "smart-log", lambda: live) == live
    assert commands.asked(Root(Path("/")), "nvme0", "smart-log", lambda: live) == live


@pytest.mark.parametrize("answered", [True, False])
def test_an_optical_drive_that_this_account_may_not_ask_is_told_by_it(
    answered: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    live, refusals = optical._live("/dev/sr0")[0], []

    def refused(node: str) -> tuple[str, Answer]:
        refusals.append(node)
        return live, Answer(SourceOutcome.REFUSED, error="EACCES")

    monkeypatch.setattr(optical, "_live", refused)
    if answered:
        write(tmp_path, "replies/sr0/get-configuration.bin", bytes(8))
    reply = optical._asked(Root(Path("/"), privileged=tmp_path), "sr0")
    assert refusals == ["/dev/sr0"]
    kept = ("/replies/sr0/get-configuration.bin", bytes(8), True)
    assert (reply.locator, reply.data, reply.by_root) == (kept if answered else (live, b"", False))
    assert reply.id == "optical.sr0.get-configuration"
