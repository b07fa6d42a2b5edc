"""Amounts of money in a row, and the words beside them: `£9.99 each`, `129:-`, `12,90 € inkl. MwSt.`.

An amount needs a currency, a word before it, or the two decimals of a price at a row's end.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from shipworthy.words.spans import Span, where

# Signs of money in Unicode (general category Sc), a dollar's country before it; codes of ISO 4217. Some codes
# are words in small letters (`try`): those count in capitals alone.
_SIGN = (
    r"(?:(?:(?<![A-Za-z])(?:US|AU|NZ|CA|HK|SG|MX|A|C|R|S))?[$¢£¤¥฿\u20a0-\u20cf＄￠￡￥￦]"
    r"|(?<![A-Za-z])(?:EUR|USD|GBP|CHF|PLN|SEK|NOK|DKK|CZK|HUF|Euros?|dollars|SFr\.?|(?-i:kr\.?)(?!\d)|zł|Kč"
    r"|(?-i:CAD|AUD|NZD|JPY|CNY|RMB|INR|RON|BGN|TRY|ZAR|BRL|MXN|SGD|HKD|TWD|ILS|AED|KRW|RUB|UAH|Fr\.|Rs\.?))"
    r"(?![A-Za-z])|(?:円|元|руб\.?))"
)
_AMOUNT = r"[-+]?\d{1,3}(?:[.,' ’\u00a0]\d{3})*(?:[.,](?:\d{1,2}|--?|–))?|[-+]?\d+(?:[.,]\d{1,2})?"
_TAX = r"(?:vat|tax|gst|mwst|ust|tva)"
# What may stand behind an amount and says nothing of the part.
_BESIDE = (
    r"(?:\s?(?:/|(?<=\s)(?:per|pro|par)\s)\s?(?:each|pc|pcs|piece|item|unit|stück|stk|st|pièce|unité)\b\.?"
    r"|\s?\*+(?=\s*$)|\s(?:each|ea)\b\.?(?!\s*[:=])"
    rf"|\s?\(?(?:(?:incl|inc|excl|ex|exc|inkl|exkl|zzgl|plus|before|after|including|excluding)\b\.?|\+)"
    rf"\s?(?:\d{{1,2}}(?:[.,]\d)?\s?%\s?)?{_TAX}\b\.?\)?|\s(?:HT|TTC|netto|brutto)\b(?=\s*$)"
    r"|\s\(?[-–−]?\d{1,2}(?:[.,]\d)?\s?%\)?(?=\s*$))"
)
# A number with a sign behind it is an amount only if the sign is not the next number's: `DDR5-5600 £180`.
_DECIMALS = r"[-+]?\d{1,3}(?:[.,' ’\u00a0]\d{3})*[.,](?:\d{2}|--?|–)|[-+]?\d+[.,]\d{2}"
_MONEY = re.compile(
    rf"(?:(?<!\S)[-+−])?{_SIGN} ?(?:{_AMOUNT})(?![\w]|[.,]\d){_BESIDE}?"
    rf"|(?<![\w.,])(?<!\w-)(?:\d{{1,5}}€\d{{2}}(?![\d.,])|(?:{_DECIMALS}) ?{_SIGN}(?!\d)"
    rf"|(?:{_AMOUNT}) ?{_SIGN}(?! ?\d)|(?-i:\d{{1,3}}(?:[ \u00a0]\d{{3}})+ ?Ft\b)){_BESIDE}?",
    re.IGNORECASE,
)
# Two decimals at a row's end, where no word before them makes a version of them (`USB 3.20`).
_AT_END = re.compile(
    r"(?<![\w.,/-])(?:[-−]?\d{1,3}(?:[.,']\d{3})*[.,]\d{2}|[-−]?\d{4,6}[.,]\d{2}|\d{1,5}[.,:][-–]{1,2})"
    rf"(?P<beside>(?:{_BESIDE})*)(?= *$)",
    re.IGNORECASE,
)
# What stands in a price's column instead of one; set off by it, as `free` may end a name too.
_NO_CHARGE = re.compile(
    r"(?:\s{2,}|\t|\|\s*|\.{3,}\s*|…\s*)"
    r"(?P<price>free(?: of charge)?|no charge|gratis|kostenlos|"
    r"included|incl\.?|inkl(?:usive|\.)?|inbegriffen|incluse?s?|compris(?:e|es)?|"
    r"offerte?s?|gratuite?s?|f\.?o\.?c\.?)[\s|]*$",
    re.IGNORECASE,
)
# `each 199.00`: a price by the word before it, wherever it stands.
_BY_WORD = re.compile(
    r"(?<!\w)(?:each|je|à|per (?:piece|unit)|pro stück|@|statt|was|rrp|uvp|price|preis|prix)\s*:?\s*"
    r"(?P<price>\d{1,6}[.,]\d{2})(?![\d.,]*\d|\s?(?:ghz|v|tb|gb|mm|inch|zoll)\b)",
    re.IGNORECASE,
)
# `9.99 each`: a price by the word behind it.
_BEFORE_WORD = re.compile(
    r"(?<![\w.,/-])"
    r"(?:\d{1,6}[.,]\d{2}\s?(?:each|ea|per (?:piece|unit)|pro stück|/\s?(?:pc|piece|stück|stk))\b\.?"
    r"|\d{1,6}[.,]\d{2}(?=\s?\((?:was|rrp|uvp|statt|instead of)\b))"
    r"|(?<![\w.,/-])"
    rf"(?:\d{{1,6}}[.,]\d{{2}}\s(?:(?:incl|inc|excl|ex|inkl|exkl|zzgl|plus)\b\.?|\+)\s?{_TAX}\b)",
    re.IGNORECASE,
)
_BESIDE_ANOTHER = re.compile(r"(?<![\w.,/-])\d{1,5}[.,]\d{2}\s/\s$")
"""The amount before the sign in `74.99 / 109.00`: two prices of one row, or two versions."""
_VERSION = re.compile(
    r"(?<![A-Za-z])(?:(?:v|ver(?:sion)?|bios|firmware|kernel|cuda|driver|"
    r"ubuntu(?: (?:server|desktop))?|debian|fedora|mint|linux|suse|leap|rhel|centos|windows|server)\.? *|"
    r"(?P<hardware>rev(?:ision)?|gen|pcie|usb|hdmi|dp|displayport|atx)\.? ?)$",
    re.IGNORECASE,
)
"""Words that make a version of the number behind them; of hardware it has one figure, and stands beside."""
_BEHIND_LAST = re.compile(rf"(?:\s|[|;]|{_SIGN})+$")
_SLASH_AT_END = re.compile(r"\s/\s*$")


def price_spans(text: str) -> Iterator[Span]:
    """Yield where amounts of money stand in a row; they may overlap."""
    yield from (Span(*where(m)) for m in _MONEY.finditer(text))
    yield from (Span(m["price"], m.start("price"), m.end("price")) for m in _BY_WORD.finditer(text))
    yield from (Span(*where(m)) for m in _BEFORE_WORD.finditer(text))
    if match := _NO_CHARGE.search(text):
        yield Span(match["price"], match.start("price"), match.end("price"))
    end = len(text)
    while (match := _last_amount(text[:end])) is not None:
        yield Span(*where(match))
        end = len(_SLASH_AT_END.sub("", text[: match.start()]))


def _last_amount(text: str) -> re.Match[str] | None:
    text = _BEHIND_LAST.sub("", text)
    match = _AT_END.search(text)
    if match is None:
        return None
    version = _VERSION.search(_BESIDE_ANOTHER.sub("", text[: match.start()]))
    is_one = version is not None and (not version["hardware"] or re.match(r"\d[.,]", match.group()))
    return None if is_one else match
