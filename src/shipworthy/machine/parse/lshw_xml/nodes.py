"""Nodes of lshw's tree, with what all of them have."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from shipworthy.machine.listing import text_or_silence
from shipworthy.model.words import Absent

_PCI = re.compile(r"pci@([0-9a-f]{4,8}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7])")
_MAKERS = {
    "intel corp.": "Intel",
    "intel corporation": "Intel",
    "advanced micro devices [amd]": "AMD",
    "advanced micro devices, inc. [amd]": "AMD",
}
_NOTHING = re.compile(r"\[empty\]|unknown|not available|no module installed", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Node:
    """One node: its element and the nodes that it lies in, the nearest first."""

    element: Element
    above: tuple[Node, ...]

    @property
    def id(self) -> str:
        """The name without the number that tells it from others (`cpu:0`)."""
        return (self.element.get("id") or "").split(":", 1)[0]

    @property
    def kind(self) -> str:
        return self.element.get("class") or ""

    @property
    def disabled(self) -> bool:
        return self.element.get("disabled") == "true"

    def raw(self, tag: str) -> str:
        child = self.element.find(tag)
        return " ".join((child.text or "").split()) if child is not None else ""

    def text(self, tag: str) -> str | Absent:
        """Return an element's text; not offered if it is a placeholder, or not there."""
        return given(self.raw(tag))

    def number(self, tag: str, units: str = "") -> int | None:
        """Return an element's whole number; None where it is not there or has other units."""
        child = self.element.find(tag)
        text = (child.text or "").strip() if child is not None else ""
        if child is None or (units and child.get("units", units) != units) or len(text) > 20:
            return None
        return int(text) if text.isascii() and text.isdigit() else None

    def setting(self, name: str, *, placeholders: bool = False) -> str | Absent:
        found = self.element.findall("configuration/setting")
        text = next((one.get("value") or "" for one in found if one.get("id") == name), "")
        text = " ".join(text.split())
        return text if placeholders and text else given(text)

    def setting_number(self, name: str) -> int | None:
        text = self.setting(name)
        if isinstance(text, Absent) or not text.isascii() or not text.isdigit() or len(text) > 9:
            return None
        return int(text)

    def capabilities(self) -> set[str]:
        return {one.get("id") or "" for one in self.element.findall("capabilities/capability")}

    def names(self) -> list[str]:
        """The logical names, without `/dev/`."""
        texts = ((one.text or "").strip() for one in self.element.findall("logicalname"))
        return [text.removeprefix("/dev/") for text in texts if text]

    @property
    def function(self) -> str | None:
        """The address of the PCI function that it is; None if it is none."""
        match = _PCI.fullmatch(self.raw("businfo"))
        return match[1] if match else None


def given(text: str) -> str | Absent:
    """Return a text; not offered if it stands for nothing."""
    return Absent.NOT_OFFERED if _NOTHING.fullmatch(text) else text_or_silence(text)


def maker_of(text: str | Absent) -> str | Absent:
    """Return a maker of processors as the other sources name it, or the text."""
    return text if isinstance(text, Absent) else _MAKERS.get(text.casefold(), text)


MOST_DEPTH = 64


def walk(root: Element) -> Iterator[Node]:
    """Return all nodes, in the order of the report. What lies deeper than any machine is left out."""
    waiting: list[tuple[Element, tuple[Node, ...]]] = [(root, ())]
    while waiting:
        element, above = waiting.pop()
        if element.tag == "node":
            node = Node(element, above)
            yield node
            above = (node, *above)
        if len(above) < MOST_DEPTH:
            below = [(child, above) for child in element if child.tag == "node"]
            waiting += below[::-1]
