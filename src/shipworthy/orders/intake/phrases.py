"""Rows of a pasted confirmation that are values of its head, tell what is not wanted, or add to a line.

Each pattern is for a whole row, or for the label that it begins with.
"""

from __future__ import annotations

import re

from shipworthy.orders.intake.dates import A_DATE, A_WEEK

_I = re.IGNORECASE

_TITLE = (
    r"(?:(?:order|auftrags?|bestell)[- ]?"
    r"(?:confirmation|bestätigung|summary|übersicht|receipt|acknowledge?ment)|"
    r"(?:confirmation|récapitulatif)(?: de (?:la |votre )?commande)?|"
    r"your order|ihre bestellung|votre commande|"
    r"thank(?:s| you) for your order|vielen dank für ihre(?:n auftrag|e? bestellung)|"
    r"merci (?:de|pour) votre commande)"
)
# What a firm's name ends with, by its legal form.
FIRM = (
    r"(?:GmbH(?: & Co\.? KG)?|AG|KG|OHG|UG|e\.\s?K|"
    r"Ltd|Limited|LLC|LLP|Inc|Corp|PLC|B\.?V|SARL|SAS|S\.?r\.?l)\.?"
)
FIRM_FIRST = re.compile(
    rf"(?P<value>[^\W\d][^·|,:]{{1,80}}?(?<![\w.-]){FIRM})\s*(?:[·•|,]|\s[-–—])\s*(?P<rest>\S.*)", _I
)
"""An address in one row, with the firm's name in front: `Kessel GmbH · Am Hafen 3 · 24103 Kiel`."""
SHOP_BEFORE_TITLE = re.compile(rf"(?P<value>[^\W\d][^:!?]{{1,60}}?)\s*(?:[|:,]|\s[-–—·])\s*{_TITLE}", _I)
"""A shop's name and a title in one row, with a sign between them: `Kestrel Desk - Order confirmation`."""
SHOP_AND_TITLE = re.compile(
    rf"(?P<value>(?!(?:your|the|my|our|new|this|here|re|fwd|aw|ihre?|unsere?|neue?|votre|notre|la)\b)"
    rf"(?-i:[^\W\d_a-z])[^:!?\d]{{1,60}}?)\s+{_TITLE}",
    _I,
)
"""A shop's name and a title in one row, with no sign between them: `Kestrel Desk order confirmation`."""
HEAD = (
    ("shop", SHOP_BEFORE_TITLE),
    ("shop", re.compile(rf"{_TITLE}(?:\s*[|:]|\s[-–—·])\s*(?P<value>[^\W\d][^:!?\d]{{1,60}})", _I)),
    ("shop", re.compile(rf"(?P<value>[^\W\d].{{1,80}}\b{FIRM})", _I)),
    ("shop", re.compile(r"(?:shop|seller|sold by|verkäufer|händler|vendeur)\s*:\s*(?P<value>\S.*)", _I)),
    (
        "due",
        re.compile(
            r"(?:due(?: date)?|ready (?:by|on)|"
            r"(?:estimated |expected |planned )?(?:delivery|dispatch|completion)(?: date| by| on)?|"
            r"ship(?:ping)? (?:by|date|on)|deliver(?:y)? by|"
            r"liefertermin|lieferdatum|liefertag|fertig (?:bis|am)|fertigstellung(?: bis| am)?|versand am|"
            r"livraison prévue(?: le)?|date de livraison|prête? le|expédition prévue(?: le)?)"
            rf"\s*:?\s*(?P<value>{A_DATE}|{A_WEEK})",
            _I,
        ),
    ),
    (
        "units",
        re.compile(
            r"(?:unit|serial(?: no\.?| number)? of (?:the )?unit|gerät|einheit)"
            r"\s*(?:id)?\s*:\s*(?P<value>[\w.-]+)",
            _I,
        ),
    ),
)
SHOP_WITHIN = re.compile(
    r"\b(?:(?:your |the )?(?:new )?order (?:with|at|from)|ordering (?:with|from)|shopping (?:with|at)|"
    r"bestellung bei|auftrag bei|commande chez|confiance à) "
    r"(?P<value>(?-i:[A-ZÄÖÜÉ0-9])[\w&'.-]*(?: (?:(?-i:[A-ZÄÖÜÉ])[\w&'.-]*|&|and|und|et)){0,4})",
    _I,
)
"""A shop that a sentence names: `your order with Kestrel Desk is in`."""
TEAM = re.compile(
    r"(?:the |your |ihr |das |l'équipe |votre équipe )"
    r"(?:(?:team|bench|crew) (?:at|of|from|von|bei|der|de|chez) )?"
    r"(?P<value>(?!team\b)(?-i:[^\W\d_a-z])\S*(?: \S+){0,3}?)(?:[- ](?:team|bench|crew))?",
    _I,
)
"""A signature with the shop's name in it."""
CUSTOMER = re.compile(
    r"(?:(?:your |ihre |votre )?(?:customer|client|kunden?|kd\.?(?=-?nr)|account)[- ]?"
    r"(?:(?:no|nr|number|nummer|id|ref(?:erence)?|name|code|n°)(?![^\W_])\.?)?|"
    r"n\s?[°ºo] (?:de )?client|numéro (?:de )?client|réf(?:érence)?\.? client)"
    r"(?:\s*[:#]|\s{2,})\s*(?P<value>\S.*)|"
    r"(?:your ref(?:erence)?|votre réf(?:érence)?|ihr zeichen|ihre referenz|p\.?o\.? (?:no|number))"
    r"\.?\s*[:#]?\s*(?P<ref>\S.*)|"
    r"(?:customer|kunden|kd\.?)[- ]?(?:no|nr|number|nummer)\.? (?P<number>\d\S*)",
    _I,
)
DATE = re.compile(
    r"(?:(?:your |ihre |votre )?"
    r"(?:order(?:ed)?|invoice|bestell(?:ung)?|rechnungs|auftrags?|commande|sent|gesendet|envoyé)?"
    r"[- ]?(?:date|datum|on|vom|am|of|du|le)|"
    r"ordered on|placed(?: on)?|sent|gesendet|envoyé|date de (?:la )?commande|de)?"
    rf"\s*:?\s*{A_DATE}",
    _I,
)
_NONE_WORDS = (
    r"(?:none|no|not? (?:required|wanted|selected|included|fitted|applicable|needed)|without|-+|–|—|n/?a|"
    r"keine?s?|ohne|nein|entfällt|nicht (?:gewählt|gewünscht|enthalten)|"
    r"aucune?|sans|non|off|aus)"
)
_NONE = re.compile(
    rf"(?:\d{{1,3}}\s*[x×.)]?\s+)?(?:.*(?:[:=]\s*|\s{{2,}}|\t))?{_NONE_WORDS}"
    # with the reason behind it: `GPU: none (the processor has graphics)`
    rf"|.*(?:[:=]\s*|\s{{2,}}|\t)(?:none|no|nein|keine?[rs]?|aucune?|non)\s*[(,;–—].*"
    r"|(?:no|without|ohne|keine?n?|sans|aucune?)\s+[\w'’-]+(?:[ -][\w'’-]+){0,2}",
    _I,
)
OTHER_NUMBER = re.compile(
    r"(?:(?:pro ?forma|your|our|ihre?|votre) ?)?"
    r"(?:invoice|quot(?:e|ation)|receipt|rechnung|angebot|facture|devis|"
    r"delivery note|lieferschein|bon de livraison)"
    r"[- ]?(?:no|nr|number|nummer|n\s?[°ºo])?\.?\s*[:#]?\s*(?P<value>[\w./-]*\d[\w./-]*)",
    _I,
)
"""The number of a paper that is no order."""
LABEL_NONE = re.compile(
    r"(?P<label>\S.{1,40}?)\s+(?:none|keine?s?|aucune?|n/a|not (?:required|wanted|needed))", _I
)
"""What is not wanted behind a label without a sign: `OS none`."""
ONBOARD = re.compile(
    r"(?P<label>[^:=]{2,40})(?:[:=]\s*|\s{2,}|\t)"
    r"(?:on[- ]?board|integrated|built[- ]?in|integriert|intégrée?|"
    r"(?:auf|im|on|sur|part of) (?:the |dem |la )?(?:board|mainboard|motherboard|carte mère|processor|cpu))",
    _I,
)
"""A row that sells nothing beside the board: `Sound: onboard`."""
NOT_OF_PARTS = re.compile(
    r"(?:build|lead|processing|production|delivery|dispatch|bearbeitungs?|liefer|bau)[- ]?(?:time|zeit)"
    r"\s*:.*|"
    r"(?:build|system|pc|computer|configuration|konfiguration|machine|rechner)[- ]?(?:name|nom)?"
    r"\s*:\s*[^\d:;,]{1,40}|"
    r"délai\s*:.*|(?:order )?status\s*:.*|(?:subject|betreff|objet|re|aw|fwd?|wg|tr)\s*:.*",
    _I,
)
"""Labels that say something of the order, and nothing of what is in the machine."""
ATTRIBUTE = re.compile(
    r"(?P<label>(?:hersteller-?|manufacturer'?s? ?|maker'?s? ?|mfr\.? ?)?"
    r"(?:part|model|teile?|artikel)?[- ]?(?:no|nr|number|nummer)\b\.?|mpn|p/n|sku|ean|gtin|upc|"
    r"maker|manufacturer|brand|hersteller|marke|marque|fabricant|réf(?:érence)?\.?|"
    r"colou?r|farbe|couleur|size|größe|taille|qty|quantity|menge|anzahl|qté|quantité|"
    r"note|notes|hinweis|bemerkung|option|variant|variante|text|"
    r"artikel-?(?:nr|nummer)\.?|art\.?-?\s?nr\.?|item (?:no|number)\.?|serial(?: no)?\.?|"
    r"condition|zustand|position|availability|verfügbarkeit|lieferzeit|in stock|auf lager|disponibilité|"
    r"warranty|garantie|length|länge|"
    r"(?:unit |total |single |einzel|stück|gesamt)?(?:price|preis)|prix)\s*[:=]\s*(?P<value>.*)|"
    r"(?P<number>sku|mpn|p/n|ean|gtin|upc|part no\.?|art\.?-?\s?nr\.?|artikelnummer)"
    r"\s+(?P<code>(?=\S*\d)\S+)",
    _I,
)


def is_none(words: str) -> bool:
    """Return whether a row tells what is not wanted: `Monitor: none`, `no operating system`."""
    return _NONE.fullmatch(words) is not None
