"""French words of the trade that name a category (common practice of shops' lists)."""

from __future__ import annotations

from shipworthy.model.words import Category

C = Category

FRENCH: tuple[tuple[Category, str], ...] = (
    (C.PROCESSOR, r"processeurs?"),
    (C.BOARD, r"cartes?[- ]mères?"),
    (C.MEMORY, r"(?:barrettes?(?: de)? )?mémoire(?: vive)?|barrettes?|kit(?: de)? mémoire"),
    (C.STORAGE, r"disques?(?: durs?| ssd)?|(?:disque|lecteur) (?:nvme|système|de données)"),
    (C.GRAPHICS, r"cartes? (?:graphiques?|vidéo)"),
    (C.POWER_SUPPLY, r"(?:bloc d')?alimentation(?: (?:atx|sfx|modulaire))?"),
    (C.CASE, r"boîtiers?|boitiers?|(?:moyenne |grande |mini[- ])?tour"),
    (C.COOLER, r"ventirads?|refroidissement(?: (?:liquide|à eau|par eau|processeur|à air))?|watercooling"),
    (C.FAN, r"ventilateurs?(?: (?:de )?boîtier)?"),
    (C.OPTICAL_DRIVE, r"(?:graveur|lecteur)(?: (?:dvd|blu-?ray|optique|cd))"),
    (C.NETWORK, r"(?:carte|clé) (?:réseau|wi-?fi)"),
    (C.SOUND, r"cartes? son"),
    (C.DISPLAY, r"écrans?|moniteurs?"),
    (C.CABLE, r"câbles?(?: (?:d'alimentation|sata|vidéo|réseau))?|rallonges?|adaptateurs?"),
    (
        C.ACCESSORY,
        r"pâte thermique|souris|claviers?|casque|tapis de souris|haut-parleurs?|webcam|accessoires?",
    ),
    (C.SYSTEM_SOFTWARE, r"système d'exploitation|(?:licence|clé) (?:windows|logiciel\w*)"),
    (
        C.SERVICE,
        r"assemblage|montage(?: et test\w*)?|installation(?: du système)?|tests?(?: de stabilité)?|"
        r"garantie(?: étendue)?|profil (?:de (?:la )?)?mémoire|mise à jour (?:du )?bios",
    ),
    (C.CUSTOMISATION, r"gravure|peinture|marquage|lettrage|autocollant|impression (?:uv|personnalisée)"),
)
