"""The page and the print: the same facts in both, nothing from outside, hostile text shown as text."""

from __future__ import annotations

import re
import unicodedata
from html.parser import HTMLParser
from pathlib import Path

import pytest

from shipworthy.handover.breaking import pieces
from shipworthy.handover.facts import handover_of
from shipworthy.handover.page import render_page
from shipworthy.handover.plots import draw
from shipworthy.handover.print import render_print
from shipworthy.handover.view import Handover, Plot, texts
from shipworthy.record.sealed import Sealed
from tests.handover.pdftext import page_texts
from tests.handover.records import CUSTOMER_REFERENCE

NAMES = ("released", "held", "simulated", "no burn-in", "many sensors", "unknown zone", "conceded")
VOID = {"meta", "wbr", "br", "path", "rect"}
ALLOWED_ADDRESSES = re.compile(r"^#[a-z-]+$")


class Page(HTMLParser):
    """Reads a page back: its text, its tags with attributes, and whether tags close in order."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(page.decode("utf-8"))
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert tag in VOID or self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] != ["style"]:
            self.words.append(data)

    @property
    def text(self) -> str:
        return "".join(self.words)


@pytest.fixture(scope="module")
def views(made: dict[str, Path]) -> dict[str, Handover]:
    return {name: handover_of(Sealed(folder), signed=True) for name, folder in made.items()}


def squeezed(text: str) -> str:
    """Without what a renderer may change at a line's end, in the one spelling of each letter."""
    return re.sub(r"[\s\u200b]+", "", unicodedata.normalize("NFC", text))


def without_furniture(view: Handover, sheet: str) -> str:
    """Return what stands on a sheet without its head and foot, which must be there (a text may run on)."""
    head = squeezed(view.furniture.running_head + view.furniture.simulated)
    found = re.fullmatch(rf"{re.escape(head)}(.*)page\d+of\d+", squeezed(sheet), re.S)
    assert found is not None, sheet
    return found[1]


@pytest.mark.parametrize("name", NAMES)
def test_every_text_of_the_view_stands_in_the_page_and_in_the_print(
    views: dict[str, Handover], name: str
) -> None:
    view = views[name]
    page = squeezed(Page(render_page(view)).text)
    print_ = "".join(without_furniture(view, text) for text in page_texts(render_print(view)))
    of_page_only = {view.furniture.title, view.furniture.skip, view.furniture.contents}
    of_every_sheet = {view.furniture.running_head, view.furniture.simulated, view.furniture.page}
    of_alt_text = {b.description for s in view.sections for b in s.blocks if isinstance(b, Plot)}
    for text in texts(view):
        assert squeezed(text) in page, text
        if text not in of_page_only | of_every_sheet | of_alt_text:
            assert squeezed(text) in print_, text


def test_hostile_text_is_shown_as_text_by_the_page(views: dict[str, Handover]) -> None:
    page = Page(render_page(views["hostile"]))
    assert {tag for tag, _ in page.tags}.isdisjoint(
        {"script", "img", "iframe", "object", "b", "i", "u", "link"}
    )
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    for text in texts(views["hostile"]):
        assert squeezed(text) in squeezed(page.text), text
    assert "<script>alert(1)</script>" in page.text
    assert "{{ 7*7 }}" in page.text


def test_hostile_text_is_shown_as_text_by_the_print(views: dict[str, Handover]) -> None:
    print_ = squeezed("".join(page_texts(render_print(views["hostile"]))))
    for text in (
        '#import "@preview/evil:1.0.0": * #read("/etc/passwd") $x$ *bold* `raw` [link] \\ @label',
        "<b>Shop</b> #emph[x] & Søn", "#set page(fill: red)", "</style></title><!-- ]]> &amp;",
        "<i>ref</i> #lorem(90)", "[U+202E]gnihton[U+202C]", "linebreaktabseparator[U+0007]bell", "W" * 480,
    ):  # fmt: skip
        assert squeezed(text) in print_, text


def test_characters_without_a_letter_in_any_font_are_spelt_and_never_stop_the_print(
    views: dict[str, Handover],
) -> None:
    text = squeezed("".join(page_texts(render_print(views["hostile"]))))
    # A computer with such fonts shows the characters themselves.
    assert "[U+6F22][U+5B57]" in text or "\u6f22\u5b57" in text


@pytest.mark.parametrize("name", ["released", "held", "hostile"])
def test_the_page_names_no_address_outside_itself(views: dict[str, Handover], name: str) -> None:
    page = Page(render_page(views[name]))
    for tag, attributes in page.tags:
        for attribute in ("src", "href", "xlink:href", "action", "srcset", "data", "poster", "style"):
            if attribute in attributes:
                assert ALLOWED_ADDRESSES.match(attributes[attribute] or ""), (tag, attribute)
    markup = render_page(views["released"]).decode()
    assert "://" not in markup and "url(" not in markup and "@import" not in markup
    assert "default-src 'none'" in markup


@pytest.mark.parametrize("name", ["released", "held", "hostile", "no burn-in"])
def test_the_page_has_landmarks_one_first_heading_unique_ids_and_named_drawings(
    views: dict[str, Handover], name: str
) -> None:
    page = Page(render_page(views[name]))
    tags = [tag for tag, _ in page.tags]
    assert page.open == []
    assert [tags.count(tag) for tag in ("h1", "main", "header", "nav", "footer")] == [1] * 5
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for tag, attributes in page.tags:
        if tag == "svg":
            assert attributes["role"] == "img"
            assert set((attributes["aria-labelledby"] or "").split()) <= set(ids)
        if tag == "a":
            assert (attributes["href"] or "")[1:] in ids


def test_a_simulated_unit_says_so_on_every_page(views: dict[str, Handover]) -> None:
    words = squeezed(views["simulated"].furniture.simulated)
    pages = page_texts(render_print(views["simulated"]))
    assert len(pages) > 3
    assert all(words in squeezed(page) for page in pages)
    assert all(words not in squeezed(page) for page in page_texts(render_print(views["released"])))
    markup = render_page(views["simulated"]).decode()
    assert 'class="strip"' in markup and "@top-left" in markup
    assert "@top-left" not in render_page(views["released"]).decode()


def test_the_customers_reference_is_shown_once_on_the_first_page_and_in_no_property(
    views: dict[str, Handover],
) -> None:
    pdf = render_print(views["released"])
    counts = [squeezed(page).count(squeezed(CUSTOMER_REFERENCE)) for page in page_texts(pdf)]
    assert counts[0] == 1 and sum(counts) == 1
    page = Page(render_page(views["released"]))
    assert page.text.count(CUSTOMER_REFERENCE) == 1
    assert CUSTOMER_REFERENCE.encode() not in pdf


@pytest.mark.parametrize("name", ["released", "hostile"])
def test_the_same_view_gives_the_same_bytes(views: dict[str, Handover], name: str) -> None:
    assert render_page(views[name]) == render_page(views[name])
    assert render_print(views[name]) == render_print(views[name])


def test_the_print_declares_pdf_a_and_pdf_ua_and_the_day_of_the_decision(views: dict[str, Handover]) -> None:
    """ISO 19005-2 section 6.6.4 and ISO 14289-1 section 5: the identification schemas in the metadata."""
    pdf = render_print(views["released"])
    assert b"<pdfaid:part>2</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>" in pdf
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf
    assert b"2026-03-09" in pdf


def test_drawings_escape_their_words_and_carry_none_of_the_machines(views: dict[str, Handover]) -> None:
    plots = [b for s in views["hostile"].sections for b in s.blocks if isinstance(b, Plot)]
    assert plots
    for plot in plots:
        drawn = draw(plot, standalone=True)
        assert "<script" not in drawn
        inside = re.sub(r"<(title|desc) .*?</\1>", "", drawn)
        assert "alert" not in inside


def test_text_and_background_contrast_is_enough_to_read() -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text; the luminance is that of its definition."""
    from importlib import resources

    from shipworthy.handover import plots

    style = (resources.files("shipworthy.handover") / "templates" / "report.css").read_text("utf-8")
    named = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", style))
    inks = [named["ink"], named["soft"], named["link"], plots._INK, *(ink for ink, _ in plots._STROKES)]
    for ink in inks:
        for paper in ("#ffffff", named["wash"], plots._BAND):
            assert (luminance(paper) + 0.05) / (luminance(ink) + 0.05) >= 4.5, (ink, paper)


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(
    "text",
    ["", " ", "a  b ", "x" * 100, "sha512:" + "0f" * 64, "pci:0000:04:00.0/nvme-ns-1 temp1", "short words"],
)
def test_pieces_of_a_text_are_the_text_and_none_is_long(text: str) -> None:
    assert "".join(pieces(text)) == text
    assert all(len(word) <= 18 for piece in pieces(text) for word in piece.split(" "))
