"""Rows of money that are no parts: sums, taxes, discounts, what is paid and how, and how it is delivered."""

from __future__ import annotations

import re

_I = re.IGNORECASE

_TAX = r"(?:vat|tax|mwst|ust|mehrwertsteuer|umsatzsteuer|tva|t\.v\.a)"
_SUM = (
    r"(?:(?:positionen|artikel|items?|articles|lines|pieces) (?:gesamt|in total|total|in all)|"
    r"sub-?total|total|grand total|order total|order value|sum|amount(?: (?:due|paid))?|balance(?: due)?|"
    r"net|gross|goods(?: total)?|to pay|items? total|price in all|"
    r"zwischensumme|gesamt(?:summe|betrag|preis)?|summe|endbetrag|rechnungsbetrag|warenwert|zu zahlen|"
    r"netto|brutto|"
    r"sous-total|total (?:ttc|ht)|montant(?: total)?|net à payer|à payer|acompte|remise|réduction|"
    r"discount|voucher|coupon|deposit|paid|rabatt|gutschein|anzahlung|bezahlt|payé|"
    r"(?:your )?savings?|you save)"
)
_TAXED = (
    rf"(?:(?:incl(?:udes|uding|\.)?|plus|zzgl\.?|excl\.?|inkl\.?|enthaltene?|dont)\s*)?"
    rf"(?:\d{{1,2}}(?:[.,]\d)?\s?%\s*)?{_TAX}"
)
_DELIVERY = (
    r"(?:(?:express|standard|insured|free|tracked|versicherter?|kostenloser?) )?"
    r"(?:shipping(?: (?:costs?|fee|and handling|method))?|postage|carriage|handling|"
    r"delivery(?: (?:costs?|method|charge|option))?|collection|"
    r"lieferung|lieferart|versand(?:kosten|art)?|porto|abholung|"
    r"livraison|frais de (?:port|livraison)|expédition|mode de livraison)"
)
_PAYMENT = (
    r"(?:payment(?: (?:method|status|terms?))?|terms(?=:)|pay(?:ing)? by|paid (?:by|via|with)|"
    r"zahlung(?:sart|sweise|sziel|sbedingungen)?|bezahlt (?:mit|per)|bankverbindung|bank details|"
    r"(?:mode de )?paiement|règlement|payé par)"
)
_REST = re.compile(
    r"[\s:.()%@\d,-]*(?:(?:\[[a-z -]+\]|incl(?:\.|udes|uding|uded)?|inc\.?|"
    r"delivery|shipping|versand|lieferung|livraison|port|"
    r"inkl\.?|excl\.?|net|gross|netto|brutto|vat|mwst\.?|ust\.?|tax|tva|ttc|ht|incluse?|comprise?|"
    r"due|of|paid|by|via|per|with|card|credit|debit|invoice|bank|transfer|paypal|cash|"
    r"rechnung|überweisung|vorkasse|kreditkarte|carte|virement|received|thanks|ending|"
    r"eur|usd|gbp|chf|euro?|free|kostenlos|gratis|frei|offerte?|gratuite?|and|und|et|de|order|"
    r"express|standard|insured|courier|post|parcel|tracked|versichert|"
    r"collection|in|the|shop|abholung|laden|point|relais|magasin)(?!\w)[\s:.()%@\d,-]*)*",
    _I,
)
_FREE_DELIVERY = re.compile(
    r"versandkostenfrei|free (?:delivery|shipping|postage)|"
    r"(?:delivery|shipping|carriage) (?:is )?(?:free|paid|included)|"
    r"franco de port|livraison (?:offerte|gratuite)|frei haus",
    _I,
)
_TALKED = re.compile(
    r"(?:(?:it|this|that|all) )?(?:comes|adds up) to\b|(?:das )?macht (?:zusammen )?(?=\[)|soit (?=\[)", _I
)
_IN_BRACKETS = re.compile(r"[\s:]*\([^()]*\)(?:[\s:.=-]*\[price\])?[\s.]*")
"""How it is delivered: `Versand (DHL, versichert)`."""
_KINDS = (("delivery", _DELIVERY), ("payment", _PAYMENT), ("tax", _TAXED), ("total", _SUM))
_LABELS = [(kind, re.compile(rf"{label}(?![\w-])", _I)) for kind, label in _KINDS]


def kind_of_total(row: str) -> str:
    """Return what a row of money tells: `total`, `tax`, `delivery`, `payment`; empty for any other row.

    row: its prices replaced by `[price]`. Behind a sum or a tax only words of money may follow; behind
    `Delivery:` and `Payment:` whatever says how, as they are labels of nothing else.
    """
    plain = row.strip(" \t*#_-–—•")
    if _FREE_DELIVERY.fullmatch(plain.rstrip(" .:!")):
        return "delivery"
    if _TALKED.match(plain) and "[price]" in plain:
        return "total"
    for kind, label in _LABELS:
        match = label.match(plain)
        if match is None:
            continue
        rest = plain[match.end() :]
        if _REST.fullmatch(rest) or (kind in ("delivery", "payment") and rest.lstrip().startswith(":")):
            return kind
        if kind == "delivery" and _IN_BRACKETS.fullmatch(rest):
            return kind
    return ""
