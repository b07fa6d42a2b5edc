"""How an item is asked: the most particular question that has a sentence, what it names, and the cautions."""

from __future__ import annotations

from shipworthy.messages import known_codes, quantity_text
from shipworthy.model.base import Value, values
from shipworthy.model.orders import OrderLine
from shipworthy.model.words import Aspect, Category

_CAUTIONS = {
    Category.POWER_SUPPLY: "caution.mains",
    Category.COOLER: "caution.heat",
    Category.FAN: "caution.fans",
    Category.MEMORY: "caution.static",
    Category.GRAPHICS: "caution.static",
    Category.BOARD: "caution.static",
}
_UNIT_CAUTIONS = {
    Aspect.CONDITION: "caution.weight",
    Aspect.FANS: "caution.fans",
    Aspect.HEAT: "caution.heat",
}
_BINARY = (Category.MEMORY, Category.GRAPHICS)
_PICTURED = {
    Category.POWER_SUPPLY: (Aspect.PRESENCE, Aspect.MODEL, Aspect.RATED_POWER, Aspect.EFFICIENCY),
    Category.ACCESSORY: (Aspect.PRESENCE,),
    Category.CABLE: (Aspect.PRESENCE,),
    Category.CUSTOMISATION: (Aspect.PRESENCE, Aspect.TEXT, Aspect.COLOUR, Aspect.FINISH),
    Category.STORAGE: (Aspect.NEWNESS,),
}
"""What a picture shows for good: a label that is hidden once the unit is closed, a tray, what was agreed."""


def question(category: Category, aspect: Aspect) -> str:
    """Return the most particular question that has a sentence."""
    candidates = (f"inspect.{slug(category)}.{slug(aspect)}", f"inspect.{slug(aspect)}")
    return next((code for code in candidates if code in known_codes()), "inspect.any")


def named(line: OrderLine | None, category: Category, aspect: Aspect) -> tuple[Value, ...]:
    """Return what a question may name: the line's text, how many, and what was wanted, in its own unit."""
    wish = line.wanted(aspect) if line else None
    wants = (quantity_text(w, wish.unit, binary=category in _BINARY) for w in wish.wants) if wish else ()
    return values(
        text=line.text if line else "the unit",
        quantity=line.quantity if line else 1,
        want=" or ".join(wants) or (line.text if line and line.tells_no_part else ""),
        category=category.value,
        aspect=aspect.value,
    )


def caution(category: Category, aspect: Aspect) -> str:
    """Return the code of the caution that is shown first; empty where none is needed."""
    if category is Category.UNIT:
        return _UNIT_CAUTIONS.get(aspect, "")
    return _CAUTIONS.get(category, "")


def is_pictured(category: Category, aspect: Aspect) -> bool:
    """Whether a picture is asked for."""
    return aspect is Aspect.CONDITION or aspect in _PICTURED.get(category, ())


def slug(word: str) -> str:
    return word.replace(" ", "-")
