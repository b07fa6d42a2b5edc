"""Money and personal data, known by their shape: they are cut out and named by kind, never shown.

A part number is neither: money is told in money.py; a bank account needs its check digits (ISO 13616,
ISO 7064 mod 97-10); a phone number a label or a `+`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.orders.intake.money import price_spans
from shipworthy.words.spans import Span, where

PRICE, EMAIL, PHONE, ACCOUNT = "price", "e-mail address", "phone number", "bank account"
VAT, ADDRESS, NAME, CUSTOMER, IMPRINT = "VAT id", "address", "name", "customer", "imprint"

_EMAIL = re.compile(r"[\w.+%-]+@[\w-]+(?:\.[\w-]+)+")
_IBAN = re.compile(r"(?<!\w)[A-Z]{2}\d{2}(?: ?[A-Z0-9]{4}){2,7}(?: ?[A-Z0-9]{1,4})?(?!\w)")
_PHONE = re.compile(
    r"(?P<label>\b"
    r"(?:t[eé]l(?:efon|ephone|éphone)?|phone|mobile?|handy|fax|fon|call|ring|hotline|rufnummer)\b[.: ]*"
    r"(?:us |uns )?(?:is |ist |on |at |unter |au )?)(?:no\.?|nr\.?)?[: ]*\+?[(\d][\d ()/.-]{4,}\d"
    r"|(?<![\w+])\+\d{1,3}[ ()/-]{0,2}\d[\d ()/-]{6,14}\d(?!\w)"
    # without a label: a trunk 0, and its groups set apart (ITU-T E.123)
    r"|(?<![\w.,/+-])(?:\(0\d{1,5}\) ?|0\d{1,5}[ /] ?)\d{2,8}(?:[ -]\d{2,6}){0,4}(?![\w.,/-]*\w)",
    re.IGNORECASE,
)
_VAT = re.compile(
    r"\b(?:vat(?: (?:reg(?:istration)?|id|no|number))*|ust\.?-?id(?:nr|-nr)?|uid|steuer-?n(?:r|ummer)|tax id)"
    r"[.: #-]*(?:no\.?|nr\.?)?[: ]*[A-Z]{0,3}[ -]?\d[\w ./-]{6,14}\w|\b(?:DE\d{9}|ATU\d{8}|NL\d{9}B\d{2})\b",
    re.IGNORECASE,
)
_ENGLISH_STREET = (
    r"\d{1,4}[a-z]?,? (?:[A-Z][\w']+ ){1,3}"
    r"(?:Street|St|Road|Rd|Lane|Avenue|Ave|Close|Way|Court|Square|Row|"
    r"Terrace|Gardens|Place|Crescent|Boulevard|Blvd|Quay|Parade|Mews)\b\.?"
)
_STREET = re.compile(
    r"(?:\d{1,4}(?: ?(?:bis|ter|[a-z]))?,? "
    r"(?:rue|avenue|av\.|boulevard|bd|place|chemin|impasse|quai|allée|route|cours) [^\d:;]{2,50}|"
    r"(?:(?=[A-ZÄÖÜ])(?:[^\W\d_]+[. '-]+){0,3}[^\W\d_.'-]*?"
    r"(?:[Ss]tra(?:ß|ss)e|[Ss]tr\.|weg|platz|allee|gasse|ring|damm|ufer|hof|gasse|kai|markt)"
    r"\s+\d{1,4}\s?[a-z]?"
    rf"|{_ENGLISH_STREET})(?:,.*)?)",
)
# The same within a row, behind a comma: who gets a part may stand beside it.
_STREET_WITHIN = re.compile(
    r"[,;] *(?:[A-ZÄÖÜ][\w.-]*(?:stra(?:ß|ss)e|str\.|weg|gasse|allee)\s+\d{1,4}\s?[a-z]?\b"
    rf"|{_ENGLISH_STREET})"
)
_POSTCODE = re.compile(
    r"(?:[A-Z]{1,2}-)?\d{4,5} [A-ZÄÖÜ][a-zäöüß]{2,}[\w .()/-]*|.*\b[A-Z]{1,2}\d[A-Z\d]? \d[A-Z]{2}"
)

BLOCK = re.compile(
    r"(?:(?:your |ihre )?(?:billing|shipping|delivery|invoice|postal|rechnungs|liefer|versand|post)[- ]?"
    r"(?:address|adresse|anschrift)|(?:ship|bill|deliver|sold|invoice)(?:ed)? to|"
    r"(?:versand|lieferung|rechnung) an|"
    r"adresse de (?:livraison|facturation)|(?:livré|livrer|facturé|expédié) à)"
    r"\s*:?\s*(?P<rest>.*)|herrn|herr|frau|firma|an|familie|monsieur|madame|m(?:me|lle)\.?|z\.\s?hd\.?",
    re.IGNORECASE,
)
"""A heading below which a name and an address stand, or the first word of one."""
QUOTED = re.compile(r"[>\s]*(?:on|am|le) .{1,120}\b(?:wrote|schrieb|a écrit)\b", re.IGNORECASE)
"""The row above a mail that is quoted."""
GREETING = re.compile(
    r"(?:dear|hello|hi|hey|good (?:morning|afternoon|evening)|sehr geehrte[rs]?|liebe[rs]?|hallo|"
    r"guten (?:tag|morgen|abend)|bonjour|bonsoir|chère?|cher|madame, monsieur)\b"
    r"(?P<name>(?: +[^\W\d_][^\s\d:;(),!]*){0,5})(?:[,!.]|$)",
    re.IGNORECASE,
)
"""A greeting with the name of whom it greets; more may follow it in its row."""
MAIL = re.compile(r"(?:from|to|cc|bcc|reply-to|von|an|kopie|de|à)\s*:\s*(?P<name>.*)", re.IGNORECASE)
"""A line of a mail's head that names persons."""
PERSON = re.compile(
    r"(?:(?:your |ihre?n? )?contact(?: person)?|attn\.?|attention|f\.?a\.?o\.?|name|recipient|ordered by|"
    r"(?:handled|fitted|built|assembled|checked|packed|tested) by|(?:gebaut|geprüft|verpackt) von|"
    r"processed by|served by|sales ?person|"
    r"kontakt|ansprechpartner(?:in)?|(?:sach)?bearbeiter(?:in)?|empfänger(?:in)?|besteller(?:in)?|kunde|"
    r"kundin|interlocuteur|destinataire|nom|prénom|first name|last name|vorname|nachname)"
    r"(?:\s*:|\s{2,})\s*(?P<name>\S.*)",
    re.IGNORECASE,
)
"""A label with a person behind it."""
_IMPRINT = re.compile(
    r"(?:.*\b(?:company (?:no|number|reg\w*)|registered (?:in|office|no)\b|"
    r"geschäftsführer(?:in)?|amtsgericht|handelsregister|hrb \d|hra \d|"
    r"siret|siren|rcs|ape|tva intra\w*|capital (?:social )?de)\b.*)",
    re.IGNORECASE,
)


def is_imprint(row: str) -> bool:
    """Return whether a row has words that only the legal foot of a letter has."""
    return _IMPRINT.fullmatch(row.strip()) is not None


def private_spans(text: str) -> list[tuple[str, Span]]:
    """Return where money and personal data stand in a row, with their kinds, in order, none overlapping."""
    kept: list[tuple[str, Span]] = []
    for kind, span in _all_spans(text):
        if not any(span.overlaps(other) for _, other in kept):
            kept.append((kind, span))
    return sorted(kept, key=lambda pair: pair[1].start)


def without_private(text: str) -> tuple[str, str, tuple[str, ...]]:
    """Return a row without what is private, the same with the kinds' names in its place, and the kinds."""
    bare, named = text, text
    found = private_spans(text)
    for kind, span in reversed(found):
        bare = bare[: span.start] + "  " + bare[span.end :]
        named = named[: span.start] + f"[{kind}]" + named[span.end :]
    return bare, named, tuple(dict.fromkeys(kind for kind, _ in found))


def is_street(row: str) -> bool:
    """Return whether a whole row is a street with a number."""
    return _STREET.fullmatch(row.strip()) is not None


def is_town(row: str) -> bool:
    """Return whether a whole row looks like a postcode and a town; tell so only beside a street or a name."""
    return _POSTCODE.fullmatch(row.strip()) is not None


def _all_spans(text: str) -> Iterator[tuple[str, Span]]:
    yield from ((EMAIL, Span(*where(m))) for m in _EMAIL.finditer(text))
    yield from ((ACCOUNT, Span(*where(m))) for m in _IBAN.finditer(text) if _iban_adds_up(m.group()))
    yield from ((VAT, Span(*where(m))) for m in _VAT.finditer(text))
    yield from ((PHONE, Span(*where(m))) for m in _PHONE.finditer(text) if _digits(m.group()) >= 7)
    yield from ((ADDRESS, Span(*where(m))) for m in _STREET_WITHIN.finditer(text))
    yield from ((PRICE, span) for span in price_spans(text))


def _digits(text: str) -> int:
    return sum(character.isdigit() for character in text)


def _iban_adds_up(text: str) -> bool:
    plain = text.replace(" ", "")
    if not 15 <= len(plain) <= 34:
        return False
    return int("".join(str(int(c, 36)) for c in plain[4:] + plain[:4])) % 97 == 1
