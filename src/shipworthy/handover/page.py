"""The HTML page: one file, no script, no address of anything outside it."""

from __future__ import annotations

from importlib import resources

from shipworthy.handover.breaking import pieces, stays_whole
from shipworthy.handover.plots import draw
from shipworthy.handover.view import Handover, Plot


def render_page(view: Handover) -> bytes:
    """Return the page of a handover, UTF-8. All text is escaped; drawings are ours and escape their own."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup, escape

    def soft(text: str) -> Markup:
        return Markup("<wbr>").join(escape(piece) for piece in pieces(text))

    environment = Environment(autoescape=True, undefined=StrictUndefined)
    environment.filters["soft"] = soft
    environment.tests["short"] = stays_whole
    template = environment.from_string(_template("report.html.j2"))
    plots = (block for section in view.sections for block in section.blocks if isinstance(block, Plot))
    drawings = {plot.name: Markup(draw(plot, standalone=False)) for plot in plots}  # noqa: S704
    style = Markup(_template("report.css") + _every_sheet(view.furniture.simulated))  # noqa: S704
    return template.render(view=view, drawings=drawings, style=style).encode("utf-8")


def _template(name: str) -> str:
    return (resources.files("shipworthy.handover") / "templates" / name).read_text("utf-8")


def _every_sheet(words: str) -> str:
    """Return the rule that puts words on every printed sheet; empty for none.

    The words are a sentence of our own. Anything that could leave a CSS string is spelt by its code all the
    same (CSS Syntax Level 3, section 4.3.7).
    """
    if not words:
        return ""
    spelt = "".join(c if c.isalnum() or c in " .,:-" else f"\\{ord(c):06X}" for c in words)
    return f'@media print {{ @page {{ @top-left {{ content: "{spelt}"; font-style: italic; }} }} }}\n'
