"""Courtesies and headings of a confirmation, and sentences in which a shop says how an order goes on.

Each pattern is for a whole row. A row that none fits is never taken for talk: it may be an instruction.
"""

from __future__ import annotations

import re

_I = re.IGNORECASE

CLOSING = re.compile(
    r"(?:with )?(?:(?:our|my) )?(?:kind|best|warm|many)(?:est)? (?:regards|wishes)|(?:best )?regards|"
    r"yours(?: (?:sincerely|faithfully|truly))?|sincerely(?: yours)?|best|cheers|all the best|"
    r"(?:mit )?(?:freundlichen?|besten?|viele[n]?|herzlichen?|liebe) grü(?:ß|ss)en?|"
    r"(?:lieber |schöne[nr]? |viele |besten )?gru(?:ß|ss)|grüße|gruesse|lg|vg|mfg|"
    r"(?:bien )?cordialement|(?:meilleures )?salutations(?: distinguées)?|bien à vous",
    _I,
)
_THANKS = (
    r"(?:many )?thank(?:s| you)(?: very much| so much)?(?: (?:for|again).{0,60})?|"
    r"(?:vielen|herzlichen|besten) dank(?: für .{0,60})?|danke(?: .{0,60})?|"
    r"(?:un grand )?merci(?: (?:beaucoup|de|pour|d').{0,60})?"
)
_TITLE = (
    r"(?:order|auftrags?|bestell)[- ]?(?:confirmation|bestätigung|summary|details|übersicht|list|receipt)|"
    r"confirmation(?: de (?:la |votre )?commande)?|récapitulatif(?: de (?:la |votre )?commande)?|"
    r"order|bestellung|auftrag|commande|"
    r"(?:your|our|ihre|deine|votre) (?:new )?(?:order|bestellung|auftrag|pc|computer|system|"
    r"configuration|konfiguration|commande|machine)|"
    r"invoice|rechnung|facture|quot(?:e|ation)|angebot|devis|receipt"
)
_HEADING = (
    r"(?:you (?:have )?ordered|items (?:ordered|in your order)|ordered items|"
    r"what (?:you ordered|you get|is in it)|contents|sie haben bestellt|bestellte artikel|ihre artikel|"
    r"configuration|konfiguration|components?|komponenten|composants|parts|parts list|the parts|"
    r"other|others|misc(?:ellaneous)?|sonstiges|weiteres|divers|"
    r"teileliste|stückliste|items|artikel|articles|hardware|products?|produkte|produits|options|optionen|"
    r"(?:\w+ )?configurator|summary|details|(?:your )?(?:build|basket|cart)|warenkorb|panier|"
    r"remove|edit|entfernen|supprimer|(?:proceed to |zur )?(?:checkout|kasse))"
)
_FOOT = (
    r"(?:the |your |ihr |das |l'équipe |votre équipe )(?:.{0,40}[- ])?(?:team|bench|crew)"
    r"(?: (?:at|of|from|von|bei|der|chez|de) .{1,40})?|l'équipe .{1,40}|"
    r"(?:begin )?(?:forwarded|original) message|(?:weitergeleitete|ursprüngliche) nachricht|"
    r"message transféré|"
    r"(?:https?://|www\.)\S+|sent from my \w+|gesendet von .{1,40}|"
    r"page \d+(?: (?:of|/) \d+)?|seite \d+(?: (?:von|/) \d+)?|"
    r"unsubscribe|view (?:this|it)? ?(?:mail |email )?in (?:your |a )?browser|"
    r"terms(?: and conditions)?|privacy(?: policy)?|imprint|impressum|agb|datenschutz|mentions légales|"
    r"(?:see|hear from|speak to) you (?:soon|then|later)|bis bald|à bientôt"
)
_IS_TITLE = re.compile(f"{_TITLE}|{_THANKS}", _I)
_TALK = re.compile("|".join((_THANKS, _TITLE, CLOSING.pattern, _FOOT, _HEADING)), _I)

SENTENCE = re.compile(
    r"[.!?]\s*$|(?<![\w/-])(?:we|you|your|please|will|would|should|can|could|if|our|us|is|are|have|has|thank|"
    r"wir|sie|ihre?[rnms]?|bitte|wird|werden|wenn|falls|ist|sind|haben|hat|uns|unser[em]?|"
    r"nous|vous|votre|vos|veuillez|merci|est|sont|sera|avez|avons)(?![\w/-])",
    _I,
)
_WORD_OF_SENTENCE = re.compile(SENTENCE.pattern.partition(r"\s*$|")[2], _I)

_ADVERB = r"(?:(?:now|already|then|also|shortly|soon|just|gladly|safely) )?"
_SHOP_SAYS = re.compile(
    rf"(?:we|we'll|we've|we're)\s+(?:have |will |are |'ll )?{_ADVERB}"
    r"(?:received|receive|confirm(?:ed|ing)?|let you know|contact(?:ed)?|inform(?:ed)?|notify|"
    r"write to|ring|call|(?:e-?)?mail|thank|hope|look forward|process(?:ing|ed)?|ship(?:ped)?|"
    r"dispatch(?:ed)?|start(?:ed)?|begin|begun|building)\b.*|"
    rf"you(?:'ll| will| can| may|)\s+{_ADVERB}(?:receive|get|hear|find|track|follow|reach|view|see) .*|"
    r"(?:your|the|this) (?:order|pc|computer|machine|system|parcel|build|payment|invoice)(?: \S+)?"
    r"(?: (?:with|at|from) .{1,40}?)? (?:is|was|has|will|have) .*|"
    r"(?:your |the )?order (?:number|no\.?|reference|ref\.?) .*|"
    r"(?:if you have )?(?:any |further )?questions?\b.*|"
    r"(?:please )?(?:do not|don't) (?:reply|answer) to this .*|"
    r"please (?:keep|quote|find|note that (?:your|the) (?:order|payment)|contact|ring|call|reply|"
    r"check (?:the|your) (?:order|address|details)) .*|"
    r"this (?:mail|e-?mail|message) (?:is|was) .*|here (?:is|are) .*|"
    r"(?:wir|sie) (?:haben|werden|erhalten|bestätigen|freuen|liefern|bedanken|melden|informieren|"
    r"erreichen|finden)\b.*|"
    r"ihre? (?:bestellung|auftrag|pc|rechner|paket|rechnung)\b.*? (?:ist|wird|wurde|werden|hat) .*|"
    r"bei (?:fragen|rückfragen) .*|bitte (?:geben sie|beachten sie|überweisen|prüfen sie) .*|"
    r"nous (?:préparons|assemblons|expédions|confirmons) .*|"
    r"nous (?:vous |avons |accusons )(?:remercions|bien |confirmons|tiendrons|contacterons|informerons|"
    r"reçu|réception).*|"
    r"vous (?:recevrez|serez|trouverez|pouvez) .*|"
    r"votre (?:commande|colis|machine) .*? ?(?:est|sera|a été) .*|"
    r"pour toute question.*|voici .*",
    _I,
)
# Words by which a sentence asks for something to be made, changed or left, or speaks of things to be bought.
_ASKS = re.compile(
    r"\b(?:without|off|with (?:the|an?|your)|instead|except|but|only|no|not|never|replac\w*|chang\w*|"
    r"swap\w*|add(?:ed)?|remov\w*|leave|left|paint\w*|engrav\w*|fit(?:ted)?|install\w*|set|put|use|"
    r"unlike|rather|as well|extra|missing|sold out|substitut\w*|"
    r"ohne|statt|anstatt|außer|aber|nur|nicht|kein\w*|ersetz\w*|tausch\w*|änder\w*|lackier\w*|"
    r"gravier\w*|einbau\w*|installier\w*|zusätzlich|dazu|"
    r"sans|au lieu|sauf|mais|pas|rempla\w*|chang\w*|ajout\w*|peind\w*|grav\w*|install\w*)\b",
    _I,
)
_QUESTIONS = re.compile(r"(?:if you have )?(?:any |further )?questions?\b", _I)
_NOT_REPLY = re.compile(r"(?:please )?(?:do not|don't) (?:reply|answer)", _I)


def is_talk(row: str) -> bool:
    """Return whether a whole row is a heading or a courtesy of a confirmation."""
    return _TALK.fullmatch(bare_of_marks(row)) is not None


def is_title(row: str) -> bool:
    """Return whether a whole row is the title of a confirmation, or its thanks for the order."""
    return _IS_TITLE.fullmatch(bare_of_marks(row)) is not None


def is_shop_talk(row: str) -> bool:
    """Return whether each sentence of a row tells how the order goes on, and none asks for anything.

    A row that names something to be bought has to be told apart before.
    """
    if _QUESTIONS.match(row.strip()):
        return _ASKS.search(row) is None
    sentences = [s for s in re.split(r"(?<=[.!?])\s+(?=[^\W\d_])", row.strip()) if any(map(str.isalnum, s))]
    return bool(sentences) and all(map(_is_harmless, sentences))


def _is_harmless(sentence: str) -> bool:
    plain = bare_of_marks(sentence)
    if _TALK.fullmatch(plain) or _NOT_REPLY.match(plain):
        return True
    return _SHOP_SAYS.fullmatch(plain) is not None and _ASKS.search(plain) is None


def reads_like_sentence(words: str) -> bool:
    """Return whether words have a verb or a pronoun of a sentence, whatever their last sign."""
    return _WORD_OF_SENTENCE.search(words) is not None


def reads_like_request(words: str) -> bool:
    """Return whether words read like a sentence, or end like one and ask for something."""
    return reads_like_sentence(words) or (words.endswith((".", "!", "?")) and _ASKS.search(words) is not None)


def bare_of_marks(row: str) -> str:
    """Return a row without the signs that set a heading or a sentence off at its ends."""
    return re.sub(r"\s+", " ", row.strip(" \t:;,.!?*#=_-–—|>"))
