"""The three invented orders of the tutorial, done as the page says: each row that it shows is printed so."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from tests.cli.calling import Call, caller

PAGE = Path(__file__).resolve().parents[2] / "docs" / "tutorial" / "three-orders.md"
SHOPS = PAGE.with_suffix("")


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Call:
    return caller(monkeypatch, capsys)


def blocks() -> list[tuple[str, str]]:
    """Return (language, text) of every fenced block of the page, in order."""
    return re.findall(r"^```(sh|text)\n(.*?)^```", PAGE.read_text("utf-8"), re.MULTILINE | re.DOTALL)


def test_the_page_shows_what_is_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: Call) -> None:
    shutil.copytree(SHOPS, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    codes: dict[str, list[int]] = {}
    printed, shown = "", 0
    for language, text in blocks():
        if language == "sh":
            printed = ""
            for line in text.splitlines():
                words = shlex.split(line)
                if words[0] == "cd" and (tmp_path / Path(words[1]).name).is_dir():
                    monkeypatch.chdir(tmp_path / Path(words[1]).name)
                elif words[0] == "shipworthy":
                    done = call(*words[1:])
                    assert done.code in (0, 1), done.err
                    codes.setdefault(words[1], []).append(done.code)
                    printed += done.out
            continue
        at = 0
        for line in text.splitlines():
            if line != "...":
                found = printed.find(line + "\n", at)
                assert found >= 0, f"not printed (in this order): {line}\n{printed}"
                at, shown = found + len(line), shown + 1
    assert shown > 40
    assert codes["compare"] == [1, 1, 1]  # each machine has a difference


@pytest.mark.parametrize("shop", ["brack-lane", "nebel", "copestone"])
def test_no_machine_conforms_to_the_order_of_another_shop(
    shop: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: Call
) -> None:
    """The three readings differ from each other's orders in parts, not only in what was planted."""
    monkeypatch.chdir(tmp_path)
    source = {"brack-lane": "confirmation.txt", "nebel": "positionen.csv", "copestone": "basket.json"}
    mapping = SHOPS / shop / "mapping.toml"
    more = ["--mapping", str(mapping)] if mapping.exists() else []
    order = SHOPS / shop / source[shop]
    assert call("order", "import", order, *more, "--order-id", "T-1", "-o", "o.toml").code == 0
    for other in set(source) - {shop}:
        assert call("read", "--from", SHOPS / other / "found", "--into", other).code == 0
        compared = call("compare", "o.toml", other)
        assert compared.code == 1
        assert "differs      line 1: Ordered was the processor" in compared.out
        assert "differs      line 2: Ordered was the board" in compared.out
