"""The order's number in a row of a confirmation: behind a word for it, never a customer's or a phone's."""

from __future__ import annotations

import re

from shipworthy.orders.intake.dates import A_DATE, A_DAY

_I = re.IGNORECASE

# Words before an order's number, English, German and French (common practice of shops' letters).
_NUMBER_WORD = r"(?:no|nr|num(?:ber|mer|éro|ero)|id|ref(?:erence|erenz)?|réf(?:érence)?|code|n\s?[°ºo])"
_ORDER = (
    r"(?:(?:sales|web|purchase|online)[- ]?)?(?:order(?: confirmation| receipt| summary| acknowledge?ment)?|"
    r"(?:kauf|online)?bestell(?:ung|ungs|bestätigung)?|auftrag(?:s)?(?:bestätigung)?|auftr\.?(?=[- ]?n)|"
    r"best\.?(?=[- ]?n)|vorgang(?:s)?|"
    r"(?:confirmation |bon |récapitulatif )?(?:de )?(?:la |votre )?commande)"
)
_YOURS = r"(?:(?:your|our|the|ihre?|unsere?|der|die|deine?|votre|notre|la)\s+)?"
_VALUE = rf"(?P<value>(?:(?-i:[A-Z]{{1,5}}) (?=\d))?[A-Z0-9][\w./-]*)(?![\w/-])(?:(?=\s+{A_DATE})|(?!\s\d))"
"""One word with a figure in it; capitals may stand apart before it (`ED 771`), but no figures behind it."""

_LABELS = (
    rf"{_YOURS}{_ORDER}\s*[-.:]?\s*{_NUMBER_WORD}(?![^\W_])\.?\s*(?:is|ist|lautet|est)?\s*[:#=]?\s*",
    rf"{_NUMBER_WORD}\.?\s*(?:de |der |of |d')?(?:the |la |votre |ihrer |your )?"
    r"(?:order|bestellung|commande|auftrags?)\s*(?:is|ist|est)?\s*[:#=]?\s*",
    rf"{_YOURS}{_ORDER}\s*[:#]\s*#?\s*",
    r"(?:our |unsere? |notre |nos )?(?:ref|réf)(?:erence|erenz|érence)?s?"
    rf"(?:\.?\s*{_NUMBER_WORD})?(?:\.?\s*[:#]|\.)\s*",
    r"(?:unser zeichen|vorgang|belegn(?:r|ummer)|dokument)\.?\s*[:#]\s*",
)
_LABELLED = re.compile(rf"(?:{'|'.join(_LABELS)}){_VALUE}", _I)
_BARE = re.compile(rf"{_YOURS}{_ORDER}\s+#?{_VALUE}", _I)
_DATED = re.compile(
    rf"[\s,;(/|–-]*(?:(?:vom|of|from|dated|placed(?: on)?|on|du|le|am|date)\s*:?\s*)?{A_DATE}\s*\)?", _I
)
# By when it is wanted, in brackets behind the number: `(want it by 5 Dec please)`.
_WISH = re.compile(
    r"\s*\((?:(?:i|we|want|need|wish|wanted|needed|wished|it|this|please|to be|must be|ready|done|finished|"
    r"delivered|ich|wir|bitte|brauchen?|gewünscht|fertig|lieferung|souhaitée?|prête?|livraison) ){0,5}"
    r"(?:by|before|until|for|due|bis|vor|zum|avant|pour)(?: (?:the|le|den|zum))? "
    rf"(?P<day>{A_DATE}|{A_DAY})(?:,? (?:please|bitte|s'il vous pla[iî]t|svp|thanks|if possible))?[.!]?\)$",
    _I,
)
# The number in a sentence: behind its whole label, or behind `your order` where the sentence goes on so.
_WITHIN = re.compile(
    rf"(?<![\w-])(?:{_LABELS[0]}|{_YOURS}(?:order|bestellung|commande|auftrag)\s*#\s*){_VALUE}", _I
)
_IN_TALK = re.compile(
    r"(?<![\w-])(?:your|the|this|ihre?[nr]?|unsere?[nr]?|votre|la)\s+"
    rf"(?:order|bestellung|auftrag|commande)\s+{_VALUE}"
    r"(?=\s*(?:[,.;!)]|$|"
    r"(?:is|was|has|will|ist|wird|wurde|est|sera|vom|from|of|du|dated|placed|bei|at|with|chez)\b))",
    _I,
)


def order_number(words: str) -> str:
    """Return the order's number where a whole row or cell is its label and the number, with its date or not.

    Empty where it is none: the word must hold a figure, and a bare `Order 12` counts from three signs on.
    """
    plain = _WISH.sub("", words.strip(" \t*#=_-–—.,;!"))
    for pattern in (_LABELLED, _BARE):
        match = pattern.match(plain)
        if match is None or not _is_number(match["value"], bare=pattern is _BARE):
            continue
        rest = plain[match.end() :]
        if not rest.strip(" .,;)!") or _DATED.fullmatch(rest):
            return match["value"].rstrip(".-/")
    return ""


def wished_for(words: str) -> str:
    """Return the day in brackets by which a row with the order's number wants it, or nothing."""
    wish = _WISH.search(words.strip())
    return wish["day"].strip() if wish else ""


def number_within(words: str) -> str:
    """Return the order's number that a sentence tells (`Order number is ED 771, quote it …`), or nothing."""
    for pattern in (_WITHIN, _IN_TALK):
        for match in pattern.finditer(words):
            if _is_number(match["value"], bare=pattern is _IN_TALK):
                return match["value"].rstrip(".-/")
    return ""


def _is_number(value: str, *, bare: bool) -> bool:
    """Whether a word can be an order's number; what looks like a day or a year does not."""
    value = value.rstrip(".-/")
    if not any(map(str.isdigit, value)) or re.fullmatch(A_DATE, value, _I):
        return False
    return not bare or (
        len(value) >= 3
        and re.match(r"(?:[A-Z]{1,6}[-_/.# ]?)*\d", value) is not None
        and not re.fullmatch(r"(?:19|20)\d\d|\d{1,2}[A-Za-z]{0,2}", value)
    )
