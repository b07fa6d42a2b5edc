"""One spoiled record, or pack, for each way to be wrong; and the fault is named, with nothing beside it."""

from __future__ import annotations

import hashlib
import os
import shutil
import socket
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shipworthy.messages import known_codes, sentence
from shipworthy.model.attempt import PackFile, PackStatement
from shipworthy.model.base import Trouble, digest_of, encode
from shipworthy.record import tree as tree_module
from shipworthy.record.attempt import OpenAttempt
from shipworthy.record.bag import seal
from shipworthy.record.faults import Fault, FaultKind
from shipworthy.record.keys import SigningKey, TrustList, load_key, make_key, sign_attached, sign_detached
from shipworthy.record.sealed import Sealed
from shipworthy.record.verify import verify

Opener = Callable[..., OpenAttempt]
MANIFEST, TAGS = "manifest-sha512.txt", "tagmanifest-sha512.txt"


def found(folder: Path, trust: TrustList | None, expect: str | None = None) -> list[tuple[str, str, str]]:
    report = verify(folder, trust, expect)
    for fault in report.faults:
        assert fault.code in known_codes()
        assert "{" not in sentence(fault.code, fault.values).say
    encode(report)
    return [(fault.kind.value, fault.file, fault.detail) for fault in report.faults]


def sha512(data: bytes) -> str:
    return hashlib.sha512(data).hexdigest()


def reseal(folder: Path, key: SigningKey, tags: bytes | None = None) -> None:
    """Make the seal fit what the folder holds now, as a careless or dishonest signer would."""
    if tags is None:
        names = ("bag-info.txt", "bagit.txt", MANIFEST)
        rows = [
            f"{sha512((folder / name).read_bytes())}  {name}\n" for name in names if (folder / name).exists()
        ]
        tags = "".join(rows).encode()
    (folder / TAGS).write_bytes(tags)
    (folder / "seal.jws").write_text(sign_detached(tags, key))


def append_line(folder: Path, line: bytes, key: SigningKey) -> None:
    with (folder / MANIFEST).open("ab") as manifest:
        manifest.write(line)
    reseal(folder, key)


def set_totals(folder: Path, key: SigningKey) -> None:
    files = [path for path in (folder / "data").rglob("*") if path.is_file() and not path.is_symlink()]
    totals = f"Payload-Oxum: {sum(path.stat().st_size for path in files)}.{len(files)}"
    lines = (folder / "bag-info.txt").read_text().splitlines()
    lines = [totals if line.startswith("Payload-Oxum") else line for line in lines]
    (folder / "bag-info.txt").write_text("".join(f"{line}\n" for line in lines))
    reseal(folder, key)


def test_it_names_the_one_changed_file(sealed: Path, trust: TrustList) -> None:
    file = sealed / "data/inspection/media/side.jpg"
    data = bytearray(file.read_bytes())
    data[5000] ^= 1
    file.write_bytes(data)
    assert found(sealed, trust) == [("changed", "data/inspection/media/side.jpg", "")]


def test_it_names_the_one_file_that_is_gone_and_the_totals(sealed: Path, trust: TrustList) -> None:
    (sealed / "data/reading/reading.json").unlink()
    kinds = [(kind, file) for kind, file, _ in found(sealed, trust)]
    assert kinds == [("totals", "bag-info.txt"), ("missing", "data/reading/reading.json")]


def test_it_names_the_one_file_that_was_added(sealed: Path, trust: TrustList) -> None:
    (sealed / "data/reading/more.json").write_bytes(b"")
    kinds = [(kind, file) for kind, file, _ in found(sealed, trust)]
    assert kinds == [("totals", "bag-info.txt"), ("unexpected", "data/reading/more.json")]


@pytest.mark.parametrize(
    "name", ["notes.txt", "manifest-md5.txt", "pack.jws", ".DS_Store", "tagmanifest-md5.txt"]
)
def test_a_file_beside_the_payload_is_unexpected(sealed: Path, trust: TrustList, name: str) -> None:
    (sealed / name).write_bytes(b"x")
    assert found(sealed, trust) == [("unexpected", name, "")]


@pytest.mark.parametrize("name", ["more", "data/more", "data/reading/more"])
def test_a_folder_without_named_files_is_unexpected(sealed: Path, trust: TrustList, name: str) -> None:
    (sealed / name).mkdir()
    assert found(sealed, trust) == [("unexpected", name, "")]


def test_a_missing_attempt_is_told_once(sealed: Path, trust: TrustList) -> None:
    (sealed / "data/attempt.json").unlink()
    kinds = [(kind, file) for kind, file, _ in found(sealed, trust)]
    assert kinds == [("totals", "bag-info.txt"), ("missing", "data/attempt.json")]


@pytest.mark.parametrize("target", ["/etc/hostname", "../../attempt.json", "nowhere", "."])
def test_a_link_is_told_and_not_followed(sealed: Path, trust: TrustList, target: str) -> None:
    (sealed / "data/reading/link").symlink_to(target)
    assert found(sealed, trust) == [("link", "data/reading/link", "")]


def test_a_named_file_that_became_a_link_to_the_same_bytes_is_told(
    sealed: Path, trust: TrustList, tmp_path: Path
) -> None:
    shutil.move(sealed / "data/reading/reading.json", tmp_path / "moved")
    (sealed / "data/reading/reading.json").symlink_to(tmp_path / "moved")
    kinds = [(kind, file) for kind, file, _ in found(sealed, trust)]
    assert kinds == [("totals", "bag-info.txt"), ("link", "data/reading/reading.json")]


def test_a_folder_that_became_a_link_is_told(sealed: Path, trust: TrustList, tmp_path: Path) -> None:
    shutil.move(sealed / "data/burn-in", tmp_path / "moved")
    (sealed / "data/burn-in").symlink_to(tmp_path / "moved")
    kinds = [(kind, file) for kind, file, _ in found(sealed, trust)]
    assert kinds == [
        ("totals", "bag-info.txt"), ("link", "data/burn-in"), ("missing", "data/burn-in/log-001.jsonl"),
    ]  # fmt: skip


@pytest.mark.parametrize("kind", ["pipe", "socket", "device"])
def test_what_is_no_ordinary_file_is_told_and_not_opened(sealed: Path, trust: TrustList, kind: str) -> None:
    odd = sealed / "data" / "odd"
    if kind == "pipe":
        os.mkfifo(odd)
    elif kind == "socket":
        at, here = socket.socket(socket.AF_UNIX), Path.cwd()
        os.chdir(odd.parent)  # the name of a socket may have 107 bytes only
        try:
            at.bind("odd")
        finally:
            os.chdir(here)
            at.close()
    else:
        try:
            os.mknod(odd, 0o600 | 0o020000, os.makedev(1, 3))
        except PermissionError:
            pytest.skip("this account cannot make a device")
    assert found(sealed, trust) == [("not a file", "data/odd", "")]


def test_a_pipe_in_the_place_of_a_named_file_does_not_hang(sealed: Path, trust: TrustList) -> None:
    for name in ("data/reading/reading.json", "seal.jws", MANIFEST):
        (sealed / name).unlink()
        os.mkfifo(sealed / name)
    kinds = {(kind, file) for kind, file, _ in found(sealed, trust)}
    assert {("not a file", MANIFEST), ("not a file", "seal.jws"),
            ("not a file", "data/reading/reading.json")} <= kinds  # fmt: skip


def test_a_folder_in_the_place_of_a_named_file_is_told(sealed: Path, trust: TrustList) -> None:
    for name in ("data/reading/reading.json", "bagit.txt"):
        (sealed / name).unlink()
        (sealed / name).mkdir()
    kinds = {(kind, file) for kind, file, _ in found(sealed, trust)}
    assert {("not a file", "data/reading/reading.json"), ("not a file", "bagit.txt")} <= kinds


@pytest.mark.parametrize(
    "path",
    ["../outside", "data/../../outside", "/etc/hostname", "~/outside", "data/~root/x", "data\\..\\outside",
     "data/c:stream", "data//x", "data/./x", "bagit.txt", "data", "data/x.", "data/nul", "data/a\tb", "C:/x"],
)  # fmt: skip
def test_a_path_that_leaves_the_folder_or_is_dangerous_elsewhere_is_told(
    sealed: Path, trust: TrustList, key: SigningKey, path: str
) -> None:
    (sealed.parent / "outside").write_bytes(b"secret")
    append_line(sealed, f"{sha512(b'secret')}  {path}\n".encode(), key)
    shown = path.replace("\t", "\\t")
    assert found(sealed, trust) == [("unsafe path", shown, MANIFEST)]


def test_an_escaped_line_end_in_a_path_is_seen_for_what_it_is(
    sealed: Path, trust: TrustList, key: SigningKey
) -> None:
    append_line(sealed, f"{sha512(b'')}  data/a%0Ab\n".encode(), key)
    assert found(sealed, trust) == [("unsafe path", "data/a\\nb", MANIFEST)]


@pytest.mark.parametrize(
    ("one", "other"),
    [("side.jpg", "SIDE.JPG"), ("\u00e9.txt", "e\u0301.txt"), ("A/one", "a/two"), ("stra\u00dfe", "STRASSE")],
)
def test_names_that_are_one_on_other_file_systems_are_told(
    sealed: Path, trust: TrustList, key: SigningKey, one: str, other: str
) -> None:
    for name in (one, other):
        path = sealed / "data" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(name.encode())
        append_line(sealed, f"{sha512(name.encode())}  data/{name}\n".encode(), key)
    set_totals(sealed, key)
    pairs = sorted([f"data/{one}".split("/")[:2], f"data/{other}".split("/")[:2]])
    assert found(sealed, trust) == [("collision", "/".join(pairs[1]), "/".join(pairs[0]))]


@pytest.mark.parametrize(
    "line",
    [b"not a line\n", b"\n", b"abc  data/x\n", b"G" * 128 + b"  data/x\n", b"0" * 128 + b" data/x\n",
     b"0" * 128 + b"  \n", b"0" * 128 + b"  data/\xff\n", b"0" * 128 + b"  data/x\r\n",
     b"A" * 128 + b"  data/x\n"],
)  # fmt: skip
def test_a_line_that_is_none_is_told_by_its_number(
    sealed: Path, trust: TrustList, key: SigningKey, line: bytes
) -> None:
    number = (sealed / MANIFEST).read_bytes().count(b"\n") + 1
    append_line(sealed, line, key)
    assert found(sealed, trust) == [("malformed line", MANIFEST, str(number))]


def test_a_path_named_twice_is_told(sealed: Path, trust: TrustList, key: SigningKey) -> None:
    first = (sealed / MANIFEST).read_bytes().split(b"\n")[0]
    number = (sealed / MANIFEST).read_bytes().count(b"\n") + 1
    append_line(sealed, first + b"\n", key)
    assert found(sealed, trust) == [("double entry", MANIFEST, str(number))]


@pytest.mark.parametrize(
    "declaration",
    [b"", b"BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n",
     b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-16\n",
     b"\xef\xbb\xbfBagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"],
)  # fmt: skip
def test_another_declaration_is_told(
    sealed: Path, trust: TrustList, key: SigningKey, declaration: bytes
) -> None:
    (sealed / "bagit.txt").write_bytes(declaration)
    reseal(sealed, key)
    assert found(sealed, trust) == [("declaration", "bagit.txt", "")]


def test_a_list_of_things_to_fetch_is_told(sealed: Path, trust: TrustList) -> None:
    (sealed / "fetch.txt").write_text("file:///etc/hostname 4 data/x\n")
    assert found(sealed, trust) == [("fetch", "fetch.txt", "")]


def test_totals_that_do_not_fit_are_told_though_signed(
    sealed: Path, trust: TrustList, key: SigningKey
) -> None:
    info = (sealed / "bag-info.txt").read_text()
    said = next(line for line in info.splitlines() if line.startswith("Payload-Oxum"))
    (sealed / "bag-info.txt").write_text(info.replace(said, "Payload-Oxum: 7.2"))
    reseal(sealed, key)
    assert found(sealed, trust) == [("totals", "bag-info.txt", said.removeprefix("Payload-Oxum: "))]


@pytest.mark.parametrize("info", [b"no label\n", b"A: 1\nA: 2\n", b"\xff: x\n", b"A: 1"])
def test_information_without_its_form_is_told(
    sealed: Path, trust: TrustList, key: SigningKey, info: bytes
) -> None:
    (sealed / "bag-info.txt").write_bytes(info)
    reseal(sealed, key)
    assert found(sealed, trust) == [("info", "bag-info.txt", "")]


def test_information_that_names_another_attempt_is_told(
    sealed: Path, trust: TrustList, key: SigningKey
) -> None:
    info = (sealed / "bag-info.txt").read_text()
    (sealed / "bag-info.txt").write_text(info.replace("Simulated: yes", "Simulated: no"))
    reseal(sealed, key)
    assert found(sealed, trust) == [("identity", "bag-info.txt", "Simulated")]


def test_a_missing_seal_is_told(sealed: Path, trust: TrustList) -> None:
    (sealed / "seal.jws").unlink()
    assert found(sealed, trust) == [("seal missing", "seal.jws", "")]


@pytest.mark.parametrize("text", [b"", b"nonsense", b"\xff\xfe", b"a..b", b"e30..e30"])
def test_a_seal_that_is_none_is_told(sealed: Path, trust: TrustList, text: bytes) -> None:
    (sealed / "seal.jws").write_bytes(text)
    assert found(sealed, trust) == [("seal wrong", "seal.jws", "")]


def test_a_seal_of_another_record_is_told(sealed: Path, trust: TrustList, key: SigningKey) -> None:
    (sealed / "seal.jws").write_text(sign_detached(b"another tag manifest", key))
    assert found(sealed, trust) == [("seal wrong", "seal.jws", "")]


def test_everything_made_to_fit_again_but_the_seal_is_told(
    sealed: Path, trust: TrustList, key: SigningKey
) -> None:
    """The forger recomputes every digest, and has no key."""
    old_seal = (sealed / "seal.jws").read_bytes()
    file = sealed / "data/reading/reading.json"
    before = file.read_bytes()
    file.write_bytes(before.replace(b"true", b"fals"))
    manifest = (sealed / MANIFEST).read_text()
    (sealed / MANIFEST).write_text(manifest.replace(sha512(before), sha512(file.read_bytes())))
    reseal(sealed, key)
    (sealed / "seal.jws").write_bytes(old_seal)
    assert found(sealed, trust) == [("seal wrong", "seal.jws", "")]


def test_an_unknown_signer_and_no_trust_list_are_told_apart(
    sealed: Path, trust: TrustList, key: SigningKey, tmp_path: Path
) -> None:
    make_key(tmp_path / "k", name="Somebody else")
    only_another = TrustList().add(load_key(tmp_path / "k").public)
    assert found(sealed, only_another) == [("unknown signer", "seal.jws", key.public.kid)]
    assert found(sealed, TrustList()) == [("unknown signer", "seal.jws", key.public.kid)]
    assert found(sealed, None) == [("no trust list", "seal.jws", "")]
    assert verify(sealed, None).signer == ""


def test_a_tag_list_that_leaves_one_out_or_names_another_is_told(
    sealed: Path, trust: TrustList, key: SigningKey
) -> None:
    rows = (sealed / TAGS).read_bytes().splitlines(keepends=True)
    reseal(sealed, key, b"".join(rows[:1] + rows[2:]))
    assert found(sealed, trust) == [("tag list", TAGS, "bagit.txt")]
    reseal(sealed, key, b"".join(rows) + f"{sha512(b'')}  seal.jws\n".encode())
    assert found(sealed, trust) == [("tag list", TAGS, "seal.jws")]


@pytest.mark.parametrize("name", ["bagit.txt", "bag-info.txt", MANIFEST])
def test_a_changed_tag_file_is_told(sealed: Path, trust: TrustList, name: str) -> None:
    with (sealed / name).open("ab") as file:
        file.write(b"\n")
    assert ("changed", name, "") in found(sealed, trust)


@pytest.mark.parametrize("name", ["bagit.txt", "bag-info.txt", MANIFEST, TAGS])
def test_a_missing_tag_file_is_told_without_a_flood(sealed: Path, trust: TrustList, name: str) -> None:
    (sealed / name).unlink()
    assert found(sealed, trust) == [("missing", name, "")]


def test_an_empty_bag_vouches_for_nothing(sealed: Path, trust: TrustList, key: SigningKey) -> None:
    shutil.rmtree(sealed / "data")
    (sealed / "data").mkdir()
    (sealed / MANIFEST).write_bytes(b"")
    set_totals(sealed, key)
    assert found(sealed, trust) == [("content", "data/attempt.json", ""), ("empty", MANIFEST, "")]


def test_an_attempt_that_cannot_be_understood_is_told(
    sealed: Path, trust: TrustList, key: SigningKey
) -> None:
    file = sealed / "data/attempt.json"
    before = file.read_bytes()
    file.write_bytes(b'{"schema": 99}')
    manifest = (sealed / MANIFEST).read_text()
    (sealed / MANIFEST).write_text(manifest.replace(sha512(before), sha512(file.read_bytes())))
    set_totals(sealed, key)
    assert found(sealed, trust) == [("content", "data/attempt.json", "")]
    assert verify(sealed, trust).number == 0


@pytest.mark.parametrize(("name", "size_bytes"), [("bagit.txt", 5000), ("seal.jws", 2 << 20), (TAGS, 70_000)])
def test_a_tag_file_beyond_all_bounds_is_not_read(
    sealed: Path, trust: TrustList, name: str, size_bytes: int
) -> None:
    os.truncate(sealed / name, size_bytes)
    assert ("too large", name, "") in found(sealed, trust)


def test_a_folder_too_deep_is_told_and_not_followed_down(sealed: Path, trust: TrustList) -> None:
    deep = sealed / "data"
    for _ in range(60):
        deep = deep / "d"
    deep.mkdir(parents=True)
    assert [kind for kind, _, _ in found(sealed, trust)].count("beyond bounds") == 1


def test_too_many_files_are_told(sealed: Path, trust: TrustList, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tree_module, "MOST_ENTRIES", 8)
    assert "beyond bounds" in [kind for kind, _, _ in found(sealed, trust)]


@pytest.fixture
def as_nobody(sealed: Path) -> Iterator[Path]:
    """The record where an account without rights reaches it; as root, we take that account on."""
    place = Path(tempfile.mkdtemp())
    place.chmod(0o755)
    shutil.copytree(sealed, place / "record")
    was_root = os.geteuid() == 0
    yield place / "record"
    if was_root:
        os.seteuid(0)
    for folder in (place / "record/data").rglob("*"):
        folder.chmod(0o755)
    shutil.rmtree(place)


def test_a_file_that_may_not_be_read_is_another_thing_than_a_changed_one(
    as_nobody: Path, trust: TrustList
) -> None:
    (as_nobody / "data/reading/reading.json").chmod(0)
    (as_nobody / "data/inspection").chmod(0)
    verify(as_nobody, trust)  # what is imported on first use is imported with rights
    if os.geteuid() == 0:
        os.seteuid(65534)
    faults = found(as_nobody, trust)
    assert ("unreadable", "data/reading/reading.json", "Permission denied") in faults
    assert ("unreadable", "data/inspection", "Permission denied") in faults
    assert "changed" not in [kind for kind, _, _ in faults]


def test_a_name_with_control_characters_or_no_utf_8_is_shown_harmless(sealed: Path, trust: TrustList) -> None:
    (sealed / "\x1b[2J.txt").write_bytes(b"")
    (Path(os.fsdecode(os.fsencode(sealed) + b"/\xff.txt"))).write_bytes(b"")
    assert found(sealed, trust) == [("unexpected", "\\udcff.txt", ""), ("unexpected", "\\x1b[2J.txt", "")]


def test_an_older_attempt_passed_as_the_newest_is_told(
    sealed: Path, open_attempt: Opener, key: SigningKey, trust: TrustList
) -> None:
    with open_attempt() as attempt:
        newest = seal(attempt, key)
    digest = Sealed(newest).digest
    assert found(newest, trust, f"KD-0412-1/attempt-002/{digest}") == []
    assert found(newest, trust, f"KD-0412-1/2/{digest.removeprefix('sha512:')}") == []
    assert found(newest, trust, f"KD-0412-1/{attempt.attempt.attempt_id}/{digest}") == []
    assert found(sealed, trust, f"KD-0412-1/attempt-002/{digest}") == [
        ("other attempt", "", "1"), ("other digest", "", Sealed(sealed).digest),
    ]  # fmt: skip
    assert ("other unit", "", "KD-0412-1") in found(newest, trust, f"KD-0412-2/attempt-002/{digest}")


@pytest.mark.parametrize(
    "expect",
    ["", "KD-0412-1", "a/b/c", "KD-0412-1/attempt-001/sha512:abc", "KD/0/" + "0" * 128, "/1/" + "0" * 128],
)
def test_an_expectation_of_another_form_is_one_sentence(sealed: Path, trust: TrustList, expect: str) -> None:
    with pytest.raises(Trouble, match="not an expectation"):
        verify(sealed, trust, expect)


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path: Path, trust: TrustList) -> None:
    (tmp_path / "file").write_bytes(b"")
    for place in (tmp_path / "none", tmp_path / "file"):
        with pytest.raises(Trouble, match="no record or pack"):
            verify(place, trust)


def test_an_empty_folder_has_faults_and_no_exception(tmp_path: Path, trust: TrustList) -> None:
    kinds = {kind for kind, _, _ in found(tmp_path, trust)}
    assert kinds == {"missing", "seal missing", "content"}


def test_a_record_reached_through_a_link_is_read(sealed: Path, trust: TrustList, tmp_path: Path) -> None:
    (tmp_path / "stick").symlink_to(sealed)
    assert found(tmp_path / "stick", trust) == []


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_any_changed_byte_in_any_file_is_a_fault_and_never_an_exception(
    sealed: Path, trust: TrustList, data: st.DataObject
) -> None:
    files = sorted(path for path in sealed.rglob("*") if path.is_file())
    file = data.draw(st.sampled_from(files))
    before = file.read_bytes()
    at = data.draw(st.integers(0, len(before) - 1))
    bit = data.draw(st.integers(0, 7))
    file.write_bytes(before[:at] + bytes([before[at] ^ 1 << bit]) + before[at + 1 :])
    try:
        assert found(sealed, trust) != []
    finally:
        file.write_bytes(before)
    assert found(sealed, trust) == []


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_any_bytes_in_any_tag_file_are_a_fault_and_never_an_exception(
    sealed: Path, trust: TrustList, data: st.DataObject
) -> None:
    names = ["bagit.txt", "bag-info.txt", MANIFEST, TAGS, "seal.jws", "data/attempt.json"]
    file = sealed / data.draw(st.sampled_from(names))
    before = file.read_bytes()
    file.write_bytes(data.draw(st.binary(max_size=300)))
    try:
        assert found(sealed, trust) != []
    finally:
        file.write_bytes(before)


def test_every_kind_of_fault_has_a_sentence_and_something_to_do() -> None:
    for kind in FaultKind:
        fault = Fault(kind=kind, file="data/x", detail="y")
        said = sentence(fault.code, fault.values)
        assert fault.code in known_codes()
        assert "{" not in said.say + said.do
        assert said.do


# Packs


@pytest.fixture
def pack(sealed: Path, key: SigningKey, tmp_path: Path) -> Path:
    folder = tmp_path / "packs" / "KD-0412-1" / "attempt-001"
    folder.mkdir(parents=True)
    (folder / "report.html").write_text("<!doctype html><title>invented</title>")
    (folder / "report.pdf").write_bytes(b"%PDF-1.7 invented")
    sign_pack(folder, sealed, key)
    return folder


def sign_pack(folder: Path, record: Path, key: SigningKey, names: tuple[str, ...] | None = None) -> None:
    files = sorted(path.name for path in folder.iterdir() if path.name.startswith("report."))
    digests = {name: digest_of((folder / name).read_bytes()) for name in files}
    listed = files if names is None else names
    statement = PackStatement(
        unit_id="KD-0412-1",
        attempt_id=Sealed(record).attempt.attempt_id,
        number=1,
        record_digest=Sealed(record).digest,
        files=tuple(PackFile(file=name, digest=digests.get(name, digest_of(b""))) for name in listed),
    )
    (folder / "pack.jws").write_text(sign_attached(encode(statement), key))


def test_a_pack_verifies_and_names_the_record_it_was_made_from(
    pack: Path, sealed: Path, trust: TrustList
) -> None:
    report = verify(pack, trust, f"KD-0412-1/attempt-001/{Sealed(sealed).digest}")
    assert report.faults == ()
    assert (report.subject, report.signer, report.number) == ("pack", "Kestrel Desk, bench", 1)
    assert report.digest == Sealed(sealed).digest
    assert report.files == 2


@pytest.mark.parametrize(
    ("spoil", "faults"),
    [
        (lambda pack: (pack / "report.html").write_text("forged"), [("changed", "report.html", "")]),
        (lambda pack: (pack / "report.pdf").unlink(), [("missing", "report.pdf", "")]),
        (lambda pack: (pack / "more.txt").write_text(""), [("unexpected", "more.txt", "")]),
        (lambda pack: (pack / "more").mkdir(), [("unexpected", "more", "")]),
        (lambda pack: (pack / "link").symlink_to("/etc"), [("link", "link", "")]),
        (lambda pack: (pack / "pack.jws").unlink(), [("seal missing", "pack.jws", "")]),
        (lambda pack: (pack / "pack.jws").write_text("x"), [("seal wrong", "pack.jws", "")]),
        (lambda pack: os.truncate(pack / "pack.jws", 2 << 20), [("too large", "pack.jws", "")]),
    ],
)
def test_each_way_to_spoil_a_pack_is_told(
    pack: Path, trust: TrustList, spoil: Callable[[Path], object], faults: list[tuple[str, str, str]]
) -> None:
    spoil(pack)
    assert found(pack, trust) == faults


def test_a_pack_of_an_unknown_signer_still_has_its_files_checked(pack: Path, key: SigningKey) -> None:
    (pack / "report.html").write_text("forged")
    assert found(pack, TrustList()) == [
        ("unknown signer", "pack.jws", key.public.kid), ("changed", "report.html", ""),
    ]  # fmt: skip


def test_a_pack_with_an_unsafe_path_or_a_file_named_twice_is_told(
    pack: Path, sealed: Path, trust: TrustList, key: SigningKey
) -> None:
    sign_pack(pack, sealed, key, ("report.html", "report.pdf", "../../keys.json"))
    assert found(pack, trust) == [("unsafe path", "../../keys.json", "pack.jws")]
    sign_pack(pack, sealed, key, ("report.html", "report.pdf", "report.pdf"))
    assert found(pack, trust) == [("double entry", "pack.jws", "3")]


def test_a_signed_statement_that_is_none_is_told(pack: Path, trust: TrustList, key: SigningKey) -> None:
    for payload in (b"", b"{}", b'{"schema": 2}', b"\xff", b"[" * 100_000):
        (pack / "pack.jws").write_text(sign_attached(payload, key))
        assert found(pack, trust) == [("content", "pack.jws", "")]
