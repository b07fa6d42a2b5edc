"""Rows of a pasted confirmation that are no parts: totals, greetings, headings, and values of its head.

Each pattern is for a whole row, or for the label that it begins with. A row that none fits is never taken
for talk: it may be an instruction.
"""

from __future__ import annotations

import re

_I = re.IGNORECASE

TOTAL = re.compile(
    r"(?:(?:express|standard|insured|free|tracked|versicherter?|kostenloser?) )?"
    r"(?:sub-?total|total|grand total|order total|sum|amount(?: due)?|balance|net|gross|(?:incl\.?|"
    r"plus|zzgl\.?|excl\.?|"
    r"inkl\.?|enthaltene)?\s*(?:\d{1,2}(?:[.,]\d)?\s?%\s*)?(?:vat|tax|mwst|ust|mehrwertsteuer|umsatzsteuer)|"
    r"shipping(?: (?:costs?|fee|and handling))?|postage|carriage|handling|discount|voucher|coupon|"
    r"deposit|paid|delivery|lieferung|"
    r"payment(?: method)?|zwischensumme|gesamt(?:summe|betrag|preis)?|summe|endbetrag|rechnungsbetrag|"
    r"netto|brutto|"
    r"versand(?:kosten)?|porto|rabatt|gutschein|anzahlung|zahlung(?:sart|sweise)?|bezahlt|"
    r"(?:your )?savings?|you save)\b(?P<rest>.*)",
    _I,
)
_TOTALS_REST = re.compile(
    r"[\s:.()%\d,-]*(?:(?:\[price\]|incl\.?|inkl\.?|excl\.?|net|gross|netto|brutto|vat|mwst\.?|ust\.?|"
    r"tax|due|of|"
    r"paid|by|via|per|card|credit|invoice|bank|transfer|paypal|cash|rechnung|überweisung|vorkasse|"
    r"kreditkarte|"
    r"eur|usd|gbp|chf|euro?|free|kostenlos|gratis|and|und|order|express|standard|insured|"
    r"versichert)[\s:.()%\d,-]*)*",
    _I,
)

_ORDER = r"(?:order(?: confirmation)?|bestell(?:ung|ungs)?|auftrags?|auftragsbestätigung|vorgangs?)"
_TITLE = r"(?:order|auftrags?|bestell)[- ]?(?:confirmation|bestätigung|summary|übersicht)"
# What a firm's name ends with, by its legal form.
_FIRM = (
    r"(?:GmbH(?: & Co\.? KG)?|AG|KG|OHG|UG|e\.\s?K|Ltd|Limited|LLC|LLP|Inc|Corp|PLC|B\.?V|SARL|S\.?r\.?l)\.?"
)
_NUMBER = r"(?:no|nr|number|nummer|id|ref(?:erence)?|code)"
HEAD = (
    (
        "order_id",
        re.compile(
            rf"(?:your |ihre? )?{_ORDER}[- ]?{_NUMBER}\b\.?\s*[:#]?\s*(?P<value>[\w./#-]*\d[\w./-]*)", _I
        ),
    ),
    (
        "order_id",
        re.compile(
            r"(?:your |ihre )?(?:order|bestellung|auftrag)\s*[:#]\s*(?P<value>[\w./-]*\d[\w./-]*)", _I
        ),
    ),
    (
        "order_id",
        re.compile(
            r"(?:order|bestellung|auftrag)\s+#?(?P<value>\d[\w./-]*)"
            r"(?:,?\s+(?:vom|of|from|dated|placed on)\s.{6,30})",
            _I,
        ),
    ),
    ("shop", re.compile(rf"(?P<value>[^\W\d].{{1,60}}?)\s*[-–—|:,]\s*{_TITLE}", _I)),
    ("shop", re.compile(rf"(?P<value>[^\W\d].{{1,80}}\b{_FIRM})", _I)),
    ("shop", re.compile(r"(?:shop|seller|sold by|verkäufer|händler)\s*:\s*(?P<value>\S.*)", _I)),
    (
        "due",
        re.compile(
            r"(?:due(?: date)?|ready (?:by|on)|delivery date|ship(?:ping)? (?:by|date|on)|"
            r"deliver(?:y)? by|liefertermin|"
            r"lieferdatum|fertig (?:bis|am)|versand am)\s*:?\s*(?P<value>[\d].*)",
            _I,
        ),
    ),
    (
        "units",
        re.compile(r"(?:unit|serial of the unit|gerät|einheit)\s*(?:id)?\s*:\s*(?P<value>[\w.-]+)", _I),
    ),
)
CUSTOMER = re.compile(
    r"(?:your )?(?:customer|client|kunden?)[- ]?(?:(?:no|nr|number|nummer|id|ref(?:erence)?|name)\b\.?)?"
    r"\s*[:#]\s*(?P<value>\S.*)|(?:your ref(?:erence)?|ihr zeichen|p\.?o\.? (?:no|"
    r"number))\.?\s*[:#]?\s*(?P<ref>\S.*)",
    _I,
)
DATE = re.compile(
    r"(?:(?:order(?:ed)?|invoice|bestell|rechnungs|auftrags)?[- ]?(?:date|datum|on|vom)|ordered on|"
    r"placed on)\s*:?\s*"
    r"\d[\w ,./:-]{4,30}",
    _I,
)

_SHOP_TALK = re.compile(
    r"(?:order|auftrags?|bestell)[- ]?(?:confirmation|bestätigung|summary|details|übersicht|list)|"
    r"(?:your|ihre|deine) (?:order|bestellung|pc|configuration|konfiguration)|invoice|rechnung|"
    r"quot(?:e|ation)|angebot|"
    r"(?:many )?thank(?:s| you)(?: very much)?(?: (?:for|again).{0,60})?|vielen dank(?: für .{0,60})?|"
    r"danke(?: .{0,60})?|"
    r"(?:with )?(?:kind|best|warm|many)(?:est)? (?:regards|wishes)|regards|yours (?:sincerely|"
    r"faithfully)|cheers|"
    r"(?:mit )?(?:freundlichen?|besten?|viele[n]?|herzlichen?|liebe) grü(?:ß|ss)en?|mfg|"
    r"your\b.{0,30}[- ]team|ihr\b.{0,30}[- ]team|"
    r"(?:https?://|www\.)\S+|sent from my \w+|gesendet von .{1,40}|page \d+(?: (?:of|/) \d+)?|"
    r"seite \d+(?: (?:von|/) \d+)?|"
    r"(?:you (?:have )?ordered|items (?:ordered|in your order)|ordered items|what you ordered|contents|"
    r"sie haben bestellt|bestellte artikel|ihre artikel|configuration|konfiguration|components?|"
    r"komponenten|parts|"
    r"parts list|other|others|misc(?:ellaneous)?|sonstiges|weiteres|teileliste|stückliste|items|"
    r"artikel|hardware|products?|produkte|extras|options|optionen)",
    _I,
)
CLOSING = re.compile(
    r"(?:with )?(?:kind|best|warm|many)(?:est)? (?:regards|wishes)|regards|yours (?:sincerely|"
    r"faithfully)|cheers|"
    r"(?:mit )?(?:freundlichen?|besten?|viele[n]?|herzlichen?|liebe) grü(?:ß|ss)en?|mfg",
    _I,
)
SENTENCE = re.compile(
    r"[.!?]\s*$|\b(?:we|you|your|please|will|would|should|can|could|if|our|us|is|are|have|has|thank|"
    r"wir|sie|ihre?[rnms]?|bitte|wird|werden|wenn|falls|ist|sind|haben|hat|uns|unser[em]?)\b",
    _I,
)
NONE = re.compile(
    r"(?:.*[:=]\s*)?(?:none|no|not? (?:required|wanted|selected|included)|without|-+|–|—|n/?a|keine?s?|"
    r"ohne|nein|entfällt)"
    r"|(?:no|without|ohne|keine?n?)\s+[\w-]+(?:[ -][\w-]+){0,2}",
    _I,
)
"""A row that says of something that it is not wanted: `Monitor: none`, `no operating system`."""
ATTRIBUTE = re.compile(
    r"(?P<label>(?:hersteller-?|manufacturer'?s? ?|maker'?s? ?|mfr\.? ?)?(?:part|model|teile?|artikel)?[- ]?"
    r"(?:no|nr|number|nummer)\b\.?|mpn|p/n|sku|ean|gtin|upc|maker|manufacturer|brand|hersteller|marke|"
    r"colou?r|farbe|"
    r"size|größe|qty|quantity|menge|anzahl|note|notes|hinweis|bemerkung|option|variant|variante|text|"
    r"artikel-?(?:nr|nummer)\.?|art\.?-?\s?nr\.?|item (?:no|number)\.?|serial(?: no)?\.?|condition|"
    r"zustand|position|"
    r"availability|verfügbarkeit|lieferzeit|in stock|auf lager|warranty|length|länge|"
    r"(?:unit |total |single |einzel|stück|gesamt)?(?:price|preis))\s*[:=]\s*(?P<value>.*)|"
    r"(?P<number>sku|mpn|p/n|ean|gtin|upc|part no\.?|art\.?-?\s?nr\.?|"
    r"artikelnummer)\s+(?P<code>(?=\S*\d)\S+)",
    _I,
)


def is_total(row: str) -> bool:
    """Return whether a row, its prices replaced by `[price]`, is a total, a fee, a tax or a way of paying."""
    match = TOTAL.match(row)
    return match is not None and _TOTALS_REST.fullmatch(match["rest"]) is not None


def is_talk(row: str) -> bool:
    """Return whether a whole row is a heading or a courtesy of a confirmation."""
    return _SHOP_TALK.fullmatch(row.strip(" \t:;,.!*#=_-–—|")) is not None
