"""What stands on a build sheet, as plain text in lists: the page lays it out and decides nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shipworthy.model.orders import Order, OrderLine
from shipworthy.model.words import Category
from shipworthy.orders.fit.build import Build
from shipworthy.orders.sheet.barcode import Barcode, code_128
from shipworthy.orders.sheet.build import Work
from shipworthy.orders.sheet.places import modules_of, places_of
from shipworthy.orders.sheet.settings import Setting, settings_of
from shipworthy.orders.sheet.steps import cautions_of, steps_of
from shipworthy.orders.sheet.tray import tray_of

_NOT_FITTED = (Category.SERVICE, Category.CUSTOMISATION, Category.SYSTEM_SOFTWARE)
_IN_THE_TRAY = (Category.ACCESSORY, Category.CABLE)
# The order in which a unit is put together (common practice).
_ORDER_OF_WORK = (
    Category.CASE,
    Category.POWER_SUPPLY,
    Category.BOARD,
    Category.PROCESSOR,
    Category.MEMORY,
    Category.STORAGE,
    Category.COOLER,
    Category.FAN,
    Category.GRAPHICS,
    Category.NETWORK,
    Category.SOUND,
    Category.OPTICAL_DRIVE,
    Category.DISPLAY,
)
_MOST_SERIALS = 8  # more would take the page


@dataclass(frozen=True)
class PartRow:
    """One order line that is fitted. places: where its pieces go, in sentences. serials: room for so many."""

    line: str
    quantity: int
    text: str
    kind: str
    places: tuple[str, ...]
    serials: int


@dataclass(frozen=True)
class Trouble:
    """What has to be settled first: something that does not fit, or a question to whoever took the order."""

    kind: str
    say: str
    do: str = ""


@dataclass(frozen=True)
class Check:
    """What will be checked, and by what: `reading`, `burn-in`, `inspection`."""

    by: str
    what: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """A build sheet of one unit. number: which of the order's units it is."""

    shop: str
    order_id: str
    unit_id: str
    number: int
    of: int
    due: str
    barcode: Barcode
    troubles: tuple[Trouble, ...]
    parts: tuple[PartRow, ...]
    customisations: tuple[str, ...]
    services: tuple[str, ...]
    settings: tuple[Setting, ...]
    tray: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    checks: tuple[Check, ...]


def build_sheet(
    order: Order,
    unit_id: str,
    build: Build,
    troubles: Sequence[Trouble] = (),
    checks: Sequence[Check] = (),
) -> Sheet:
    """Return the build sheet of one unit of an order.

    build: the parts of one unit as fit knows them, by the ids of the order's lines. Every line of the order
    stands on the sheet: as a part, in the tray, or among what is done to the unit.
    """
    work = Work(order, build)
    fitted = [line for line in order.lines if line.category not in (*_NOT_FITTED, *_IN_THE_TRAY)]
    return Sheet(
        shop=order.shop,
        order_id=order.order_id,
        unit_id=unit_id,
        number=order.units.index(unit_id) + 1,
        of=len(order.units),
        due=order.due.isoformat() if order.due else "",
        barcode=code_128(unit_id),
        troubles=tuple(troubles),
        parts=tuple(_row(line, work) for line in sorted(fitted, key=_turn)),
        customisations=_texts(order, (Category.CUSTOMISATION,)),
        services=_texts(order, (Category.SERVICE, Category.SYSTEM_SOFTWARE)),
        settings=settings_of(work),
        tray=(*_texts(order, _IN_THE_TRAY), *tray_of(work)),
        steps=steps_of(work),
        cautions=cautions_of(work),
        checks=tuple(checks),
    )


def _turn(line: OrderLine) -> int:
    known = line.category in _ORDER_OF_WORK
    return _ORDER_OF_WORK.index(line.category) if known else len(_ORDER_OF_WORK)


def _row(line: OrderLine, work: Work) -> PartRow:
    places = places_of(line, work)
    return PartRow(line.line_id, line.quantity, line.text, line.category.value, places, _serials(line, work))


def _serials(line: OrderLine, work: Work) -> int:
    """Return how many pieces of a line bear a serial of their own; fans hardly ever do (common practice)."""
    if line.category is Category.FAN:
        return 1
    modules = modules_of(line, work) if line.category is Category.MEMORY else None
    return min(modules or line.quantity, _MOST_SERIALS)


def _texts(order: Order, categories: Sequence[Category]) -> tuple[str, ...]:
    lines = (line for line in order.lines if line.category in categories)
    return tuple(f"{line.quantity} × {line.text}" if line.quantity > 1 else line.text for line in lines)
