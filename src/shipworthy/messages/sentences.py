"""Look a code up and fill in its values."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources

from shipworthy.messages.text import quantity_text, scalar_text
from shipworthy.model.base import Value
from shipworthy.model.findings import Finding
from shipworthy.model.words import Category


@dataclass(frozen=True)
class Sentence:
    """say: what is so. do: what to do about it at the bench; empty if nothing."""

    say: str
    do: str = ""


@cache
def _table(language: str) -> dict[str, Sentence]:
    table: dict[str, Sentence] = {}
    folder = resources.files("shipworthy.messages") / language
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if file.name.endswith(".toml"):
            for code, words in tomllib.loads(file.read_text("utf-8")).items():
                if code in table:
                    raise ValueError(f"two sentences for {code!r}, the second in {file.name}")
                table[code] = Sentence(**words)
    return table


def known_codes(language: str = "en") -> frozenset[str]:
    """Return all codes that have a sentence in that language."""
    return frozenset(_table(language))


def sentence(code: str, values: Iterable[Value] = (), language: str = "en") -> Sentence:
    """Return the sentence of a code with its values filled in.

    A code without a sentence (from a newer or another tool) is shown as it is, with its values: nothing
    is lost, it is only less well said.
    """
    named = {value.name: scalar_text(value.name, value.value) for value in values}
    return _filled(code, named, language)


def finding_sentence(finding: Finding, language: str = "en") -> Sentence:
    """Return the sentence of a finding; `{want}` and `{got}` are written in the finding's unit."""
    return _filled(finding.code, finding_words(finding), language)


def finding_words(finding: Finding) -> dict[str, str]:
    """Return what a finding's sentence is filled with, by name, as people read it."""
    binary = finding.category in (Category.MEMORY, Category.GRAPHICS)
    named = {value.name: scalar_text(value.name, value.value) for value in finding.values}
    named["want"] = quantity_text(finding.want, finding.unit, binary=binary)
    named["got"] = quantity_text(finding.got, finding.unit, binary=binary)
    named["part"] = finding.part
    named["line"] = finding.line
    return named


def _filled(code: str, named: dict[str, str], language: str) -> Sentence:
    words = _table(language).get(code)
    if words is None:
        return Sentence(say=" ".join([code, *(f"{name}={text}" for name, text in named.items() if text)]))
    filled = _Named(named)
    return Sentence(say=words.say.format_map(filled), do=words.do.format_map(filled))


class _Named(dict[str, str]):
    def __missing__(self, name: str) -> str:
        return "{" + name + "}"
