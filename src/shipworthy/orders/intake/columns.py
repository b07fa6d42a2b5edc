"""Columns of a table by their headings, in English and German; what is guessed is said."""

from __future__ import annotations

import re
from collections.abc import Sequence

from shipworthy.orders.intake.private import CUSTOMER, PRICE

TEXT, QUANTITY, CATEGORY = "text", "quantity", "category"
MAKER, PART_NUMBER, GTIN = "maker", "part_number", "gtin"
FIELDS = (TEXT, QUANTITY, CATEGORY, MAKER, PART_NUMBER, GTIN)
POSITION, SHOPS_OWN, PERSONAL = "row number", "shop's own number", "personal data"
LEFT_OUT = (PRICE, CUSTOMER, POSITION, SHOPS_OWN, PERSONAL)
"""Meanings of a column that no order line holds; such columns are left out by the name of their kind."""

# Common words of shops' lists; a heading is looked up without signs, spaces at its ends, and case.
_HEADINGS: dict[str, str] = {
    TEXT: "text|description|item|items|item description|product|product name|name|article|part|"
    "component|title|model|item name|details|goods|"
    "artikel|artikelbezeichnung|bezeichnung|beschreibung|produkt|produktname|artikelname|ware|"
    "komponente|teil|position|modell|leistung|désignation|désignation article|produit|"
    "descripción|producto|descrizione|prodotto|omschrijving|artikelomschrijving",
    QUANTITY: "quantity|qty|qty ordered|ordered|count|pcs|pieces|units|amount ordered|no of items|"
    "menge|anzahl|stück|stueck|stk|bestellmenge|stückzahl|"
    "quantité|qté|cantidad|quantità|aantal|x",
    CATEGORY: "category|group|type|kind|class|product group|component type|part type|slot|kategorie|gruppe|"
    "warengruppe|produktgruppe|art|typ|bauteil|catégorie|categoría|categoria|categorie",
    MAKER: "maker|manufacturer|brand|make|vendor|hersteller|marke|fabrikat|fabricant|marque|fabricante|marca|"
    "produttore|merk|fabrikant",
    PART_NUMBER: "part number|part no|part nr|p n|pn|mpn|manufacturer part number|manufacturer part no|"
    "mfr part no|maker part number|manufacturer number|model number|model no|"
    "hersteller nr|herstellernummer|teilenummer|hersteller artikelnummer|herstellernr|"
    "hersteller teilenummer|référence fabricant",
    GTIN: "gtin|ean|ean code|ean 13|upc|barcode|ean gtin|gtin ean|strichcode",
    PRICE: "price|unit price|net|gross|total|line total|subtotal|amount|sum|vat|tax|tax rate|discount|"
    "net price|gross price|cost|"
    "preis|einzelpreis|gesamtpreis|gesamt|summe|betrag|netto|brutto|mwst|ust|steuer|rabatt|"
    "stückpreis|e preis|g preis|ek|vk|uvp|rrp|msrp|currency|währung|"
    "prix|prix unitaire|precio|prezzo|prijs|margin",
    CUSTOMER: "customer|customer no|customer number|customer id|client|"
    "kunde|kundennummer|kunden nr|cliente|klant",
    PERSONAL: "email|e mail|phone|telephone|address|street|city|postcode|zip|country|first name|last name|"
    "customer name|contact|telefon|adresse|straße|ort|plz|land|vorname|nachname|kundenname|iban",
    POSITION: "pos|no|nr|line|row|line no|line number|pos nr|lfd nr|zeile",
    SHOPS_OWN: "sku|code|article code|code article|réf|référence|ref|item no|item number|item code|"
    "article no|article number|product id|product code|id|stock code|"
    "artikelnummer|artikel nr|art nr|artnr|bestellnummer|produktnummer|bestell nr|"
    "unit|einheit|me|weight|gewicht|stock|lager|delivery|availability|verfügbarkeit|lieferzeit|"
    "url|link|image|bild",
}
_MEANING = {heading: meaning for meaning, row in _HEADINGS.items() for heading in row.split("|")}


def heading_key(heading: str) -> str:
    """Return a heading as it is looked up: small letters, signs as single spaces."""
    return re.sub(r"[\W_]+", " ", heading.casefold()).strip()


def meaning_of(heading: str) -> str:
    """Return what a column of that heading holds; empty if its heading is no word of the list."""
    key = heading_key(re.sub(r"[(\[].*?[)\]]", " ", heading)) or heading_key(heading)
    found = _MEANING.get(key, "")
    if not found and re.match(
        r"(?:unit |total |net |gross )?(?:price|amount|preis|netto|brutto|betrag)\b", key
    ):
        return PRICE
    return found


def guess_columns(headings: Sequence[str]) -> list[str] | None:
    """Return the meaning of each column (`""` for an unknown one); None if these are no headings.

    Headings name a text, and at least one other thing; of two columns of one meaning the first has it, and
    a further text column keeps none.
    """
    meanings = [meaning_of(heading) for heading in headings]
    known = [meaning for meaning in meanings if meaning]
    named = [heading for heading in headings if heading.strip()]
    if len(known) < 2 or len(known) * 2 < len(named):
        return None
    if TEXT not in known:
        stand_in = next((i for i, m in enumerate(meanings) if m in (PART_NUMBER,)), None)
        if stand_in is None:
            return None
    seen: set[str] = set()
    out: list[str] = []
    for meaning in meanings:
        twice = meaning in FIELDS and meaning in seen
        seen.add(meaning)
        out.append("" if twice else meaning)
    return out
