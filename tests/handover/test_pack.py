"""The folder of a pack: whole, signed, repeatable, and never in place of something else."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipworthy.handover.pack import render
from shipworthy.model.attempt import Attempt, PackStatement
from shipworthy.model.base import Trouble, decode, digest_of
from shipworthy.record.keys import SigningKey, TrustList, verify_attached
from shipworthy.record.sealed import Sealed
from shipworthy.record.verify import verify
from tests.handover.pdftext import page_texts


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_pack_is_a_page_a_print_and_a_signed_statement(
    made: dict[str, Path], key: SigningKey, tmp_path: Path
) -> None:
    pack = render(made["released"], tmp_path / "packs" / "KD-0412-1" / "attempt-001", key)
    assert names(pack.folder) == ["pack.jws", "report.html", "report.pdf"]
    trust = TrustList(keys=(key.public,))
    payload, signer = verify_attached((pack.folder / "pack.jws").read_text("ascii"), trust)
    statement = decode(payload, PackStatement, "pack.jws")
    sealed = Sealed(made["released"])
    assert signer == "Kestrel Desk"
    assert statement.record_digest == sealed.digest
    assert statement.attempt_id == sealed.read("attempt.json", Attempt).attempt_id
    assert {f.file: f.digest for f in statement.files} == {
        path.name: digest_of(path.read_bytes()) for path in (pack.html, pack.pdf)
    }


def test_a_pack_verifies_with_what_its_own_page_says(
    made: dict[str, Path], key: SigningKey, tmp_path: Path
) -> None:
    pack = render(made["released"], tmp_path / "pack", key)
    expect = f"KD-0412-1/1/{Sealed(made['released']).digest}"
    assert verify(pack.folder, TrustList(keys=(key.public,)), expect).faults == ()
    pack.html.write_bytes(pack.html.read_bytes().replace(b"Released", b"Releaved", 1))
    assert [f.file for f in verify(pack.folder, TrustList(keys=(key.public,)), expect).faults] == [
        "report.html"
    ]


def test_without_a_key_there_is_no_signature_and_both_say_so(made: dict[str, Path], tmp_path: Path) -> None:
    pack = render(made["released"], tmp_path / "pack", None)
    assert names(pack.folder) == ["report.html", "report.pdf"]
    assert "This pack is not signed." in pack.html.read_text("utf-8")
    assert all("this pack is not signed" in page for page in page_texts(pack.pdf.read_bytes()))


def test_rendering_again_replaces_a_pack_with_the_same_bytes(
    made: dict[str, Path], key: SigningKey, tmp_path: Path
) -> None:
    first = render(made["held"], tmp_path / "pack", key)
    before = {path.name: path.read_bytes() for path in first.folder.iterdir()}
    again = render(made["held"], tmp_path / "pack", key)
    assert {path.name: path.read_bytes() for path in again.folder.iterdir()} == before
    assert names(tmp_path) == ["pack"]


@pytest.mark.parametrize("kind", ["file", "folder", "link"])
def test_a_pack_never_takes_the_place_of_something_else(
    made: dict[str, Path], tmp_path: Path, kind: str
) -> None:
    out = tmp_path / "pack"
    if kind == "file":
        out.write_text("mine")
    elif kind == "folder":
        out.mkdir()
        (out / "thesis.txt").write_text("mine")
    else:
        out.symlink_to(tmp_path)
    with pytest.raises(Trouble):
        render(made["held"], out, None)
    kept = out / "thesis.txt" if kind == "folder" else out
    assert kept.is_symlink() if kind == "link" else kept.read_text() == "mine"


def test_a_pack_that_cannot_be_finished_leaves_the_old_one_and_no_half(
    made: dict[str, Path], key: SigningKey, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pack = render(made["held"], tmp_path / "pack", key)
    before = pack.html.read_bytes()

    def full(path: Path, data: bytes) -> None:
        raise Trouble("the disk is full", path, "Make room.")

    monkeypatch.setattr("shipworthy.handover.pack.write_whole", full)
    with pytest.raises(Trouble, match="disk is full"):
        render(made["released"], tmp_path / "pack", key)
    assert pack.html.read_bytes() == before
    assert names(tmp_path) == ["pack"]


def test_a_record_that_was_changed_after_the_seal_gives_no_pack(
    made: dict[str, Path], key: SigningKey, tmp_path: Path
) -> None:
    import shutil

    copy = tmp_path / "record"
    shutil.copytree(made["held"], copy)
    decision = copy / "data" / "decisions" / "001.json"
    decision.write_bytes(decision.read_bytes().replace(b'"verdict":"hold"', b'"verdict":"release"'))
    with pytest.raises(Trouble, match="not as it was sealed"):
        render(copy, tmp_path / "pack", key)
    assert not (tmp_path / "pack").exists()


def test_a_folder_that_is_no_record_is_named_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="not a sealed record"):
        render(tmp_path, tmp_path / "pack", None)
