"""Words by which a row may sell nothing, another thing, or one thing of two: it is asked about."""

from __future__ import annotations

import re

from shipworthy.model.intake import Note
from shipworthy.orders.intake.quantities import without_aside
from shipworthy.orders.intake.rawrow import note

_THING = (
    r"(?:(?:graphics|video|network|sound) )?(?:cards?|gpus?|cpus?|processor|(?:mother|main)?board|memory|ram|"
    r"drives?|ssds?|hdds?|case|psu|power supply|cooler|fans?|parts?|licen[cs]e|key|\w*karten?|prozessor|"
    r"speicher|\w*platten?|gehäuse|netzteil|kühler|lüfter|teile?|lizenz)"
)
_NOT_SOLD = re.compile(
    r"(?<![\w-])(?P<said>cancell?ed|refund(?:ed)?|returned|removed?\s*:|replaced by|out of stock|sold out|"
    r"not available|unavailable|back-?order(?:ed)?|storniert|zurückgesandt|entfernt|entfällt|ersetzt durch|"
    r"nicht (?:lieferbar|verfügbar)|annulée?s?|rembours\w+|retournée?s?|remplacée?s? par|"
    r"indisponibles?|en rupture|"
    # who orders has it already
    r"(?:customer|client|self)(?:['’]s)?[- ](?:own\b|(?:supplied|provided|furnished))|"
    r"(?:supplied|provided|furnished|brought) by (?:the |our )?(?:customer|client)|"
    rf"own {_THING}|eigene[nrs]? {_THING}|(?:vom|von|durch) (?:den )?kunden? (?:bei)?gestellt\w*|"
    r"kunde stellt|beigestellte?[nrs]?|beistellung|(?:fourni|apporté)e?s? par (?:le |la |notre )?cliente?|"
    r"(?:instead of|anstatt|au lieu de)(?=\s+\S))(?!\w)|(?P<struck>~~)",
    re.IGNORECASE,
)
# `… or equivalent`, `RTX 4070 or RTX 4080`: another thing may come. In French `or` is gold: a number follows.
_OR = re.compile(
    r"\S\s+(?P<said>(?:or|oder|ou)\s+"
    r"(?:equivalent|similar|better|gleichwertig\w*|ähnlich\w*|besser\w*|"
    r"équivalent\w*|similaire\w*|mieux|(?:[^\W\d]+\s+)?[^\W\d_]*\d[\w-]*))(?!\w)",
    re.IGNORECASE,
)
_ONE_UNIT = re.compile(
    r"(?:for |für |pour )?(?:pc|computer|machine|unit|system|rechner|workstation|gerät|ordinateur)"
    r"(?:\s*(?:no\.?|nr\.?|#))?\s*(?:\d{1,2}|(?-i:[A-Z]))\s*[:–—-]\s*(?=\S)",
    re.IGNORECASE,
)


def sold_maybe(text: str) -> Note | None:
    """Return the question about a row that may not sell what it names, or for one unit of several."""
    if match := _ONE_UNIT.match(text):
        return note("intake.one-of-units", said=match.group().strip(" :-–—")[:60])
    if match := _NOT_SOLD.search(text):
        said = match["said"] or "struck through"
        return note("intake.sold-maybe", said=" ".join(said.split()).rstrip(" :")[:60])
    if match := _OR.search(without_aside(text)):
        return note("intake.sold-maybe", said=" ".join(match["said"].split())[:60])
    return None
