"""Check that every relative link in the documents leads to a file, and to a heading where it names one.

Looks at all Markdown files but those in hidden or generated folders. Prints a line for each fault and
exits with 1; says nothing and exits with 0 if there is none. Addresses on the web are not followed:
this works offline.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote

ROOT = Path(__file__).resolve().parent.parent
LEFT_OUT = frozenset({"records", "packs", "node_modules", "build", "dist"})

_FENCE = re.compile(r"^ {0,3}(`{3,}|~{3,})")
_CODE = re.compile(r"(`+)(?:(?!\1).)+\1")
_INLINE = re.compile(r"!?\[(?:[^\[\]]|\[[^\]]*\])*\]\(\s*<?([^)\s>]+)>?(?:\s+\"[^\"]*\")?\s*\)")
_DEFINITION = re.compile(r"^ {0,3}\[[^\]]+\]:\s+<?(\S+?)>?(?:\s|$)")
_TAG = re.compile(r"<(?:img|a|source)\b[^>]*?\b(?:src|href)=\"([^\"]+)\"")
_HEADING = re.compile(r"^ {0,3}#{1,6}\s+(.*?)(?:\s+#+)?\s*$")
_ANCHOR = re.compile(r"<a\b[^>]*?\b(?:id|name)=\"([^\"]+)\"")
_ELSEWHERE = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:|//")


@dataclass(frozen=True)
class Link:
    """Where a document points to. line counts from 1."""

    target: str
    line: int


def documents(root: Path) -> list[Path]:
    """Return the Markdown files below a folder, without hidden and generated ones."""
    return sorted(path for path in root.rglob("*.md") if not _is_left_out(path.relative_to(root)))


def _is_left_out(path: Path) -> bool:
    return any(part.startswith(".") or part in LEFT_OUT for part in path.parts)


def prose(text: str) -> Iterator[tuple[int, str]]:
    """Yield the numbered lines of a document that are not in a code block."""
    fence = ""
    for number, line in enumerate(text.splitlines(), 1):
        mark = _FENCE.match(line)
        if fence:
            if mark and mark[1].startswith(fence) and not line.strip(" `~"):
                fence = ""
        elif mark:
            fence = mark[1]
        else:
            yield number, line


def links(text: str) -> Iterator[Link]:
    """Yield the links of a document: inline, by definition, and in the few tags that have one."""
    for number, line in prose(text):
        plain = _CODE.sub("", line)
        for pattern in (_INLINE, _DEFINITION, _TAG):
            for match in pattern.finditer(plain):
                yield Link(match[1], number)


def anchors(text: str) -> set[str]:
    """Return what a link to this document may name behind `#`: its headings, and anchors set by hand.

    A heading's name is made as the common hosts of Markdown make it: lower case, punctuation dropped, a
    hyphen for each space; a repeated one gets -1, -2 …
    """
    found: set[str] = set()
    for _, line in prose(text):
        found.update(_ANCHOR.findall(line))
        heading = _HEADING.match(line)
        if heading:
            name = _slug(heading[1])
            number = 0
            while (name if not number else f"{name}-{number}") in found:
                number += 1
            found.add(name if not number else f"{name}-{number}")
    return found


def _slug(heading: str) -> str:
    words = re.sub(r"!?\[([^\]]*)\]\([^)]*\)", r"\1", heading)
    kept = re.sub(r"[^\w\- ]", "", words.strip().lower())
    return kept.replace(" ", "-")


def faults(root: Path = ROOT) -> list[str]:
    """Return a line for every link that leads nowhere."""
    found: list[str] = []
    for document in documents(root):
        for link in links(document.read_text("utf-8")):
            fault = _fault(root, document, link.target)
            if fault:
                found.append(f"{document.relative_to(root)}:{link.line}: {link.target}: {fault}")
    return found


def _fault(root: Path, document: Path, target: str) -> str:
    if _ELSEWHERE.match(target):
        return ""
    path, _, anchor = unquote(target).partition("#")
    if path.startswith("/"):
        return "an absolute path means another place on each machine"
    file = document if not path else (document.parent / path).resolve()
    if not file.is_relative_to(root.resolve()):
        return "leads out of the repository"
    if not file.exists():
        return "there is no such file"
    if anchor and (file.suffix != ".md" or anchor not in anchors(file.read_text("utf-8"))):
        return "there is no such heading"
    return ""


def main() -> int:
    found = faults()
    for line in found:
        print(line, file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
