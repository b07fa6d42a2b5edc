"""Nouns that name a category, in English, German and French (common practice of shops' lists)."""

from __future__ import annotations

import re

from shipworthy.model.words import Category

C = Category

# A longer noun wins over one inside it: a CPU cooler is no processor, a case fan no case.
_NOUNS: tuple[tuple[Category, str], ...] = (
    (C.PROCESSOR, r"processors?|cpus?|prozessor(?:en)?|hauptprozessor"),
    (C.BOARD, r"(?:main|mother|system)[- ]?boards?|mobos?|hauptplatine|grundplatine"),
    (C.MEMORY, r"(?:system |main |desktop |laptop )?(?:memory|ram)(?: (?:kit|modules?))?"),
    (C.MEMORY, r"arbeitsspeicher|speicherriegel|speichermodule?|ram-(?:kit|modul|riegel)"),
    (
        C.STORAGE,
        r"ssds?|hdds?|hard[- ](?:disks?|drives?)|hard disk drives?|solid[- ]state[- ](?:drives?|disks?)",
    ),
    (
        C.STORAGE,
        r"fest(?:speicher)?platten?|sshd|m\.2[- ](?:ssd|drive)|(?:nvme|sata|boot|data|system)[- ]drives?",
    ),
    (C.GRAPHICS, r"gpus?|(?:graphics?|video)[- ](?:cards?|adapters?)|grafikkarten?|\w*grafikkarte"),
    (C.POWER_SUPPLY, r"psus?|power suppl(?:y|ies)|(?:pc-|atx-)?netzteile?|stromversorgung"),
    (C.CASE, r"(?:pc|computer|tower|midi|atx)?[- ]?(?:cases?|chassis|gehäuse|gehaeuse|enclosures?)"),
    (C.CASE, r"(?:(?:mid|midi|full|mini|super|micro|ultra)[- ]?|micro atx )?towers?|\w*gehäuse|big[- ]tower"),
    (C.COOLER, r"(?:(?:cpu|processor|tower|liquid|air|water|aio|all-in-one|top[- ]down)[- ])*cooler"),
    (
        C.COOLER,
        r"(?:cpu|processor) (?:air )?(?:heat ?sinks?|cooling)|(?:cpu[- ]|prozessor|luft|wasser)?kühler",
    ),
    (C.COOLER, r"(?:aio|all-in-one)(?:[- ](?:liquid|water)[- ]?cool(?:ing|er))?"),
    (C.COOLER, r"(?:(?:liquid|water)[- ](?:cpu[- ])?cooling(?: (?:kit|system))?)"),
    (C.COOLER, r"(?:komplett)?wasserkühlung(?:en)?|cpu-kühlung|prozessorkühlung|\w*kühler"),
    (C.FAN, r"(?:(?:case|chassis|radiator|system|pwm|cooling)[- ])*fans?|(?:case|chassis) ventilators?"),
    (C.FAN, r"(?:gehäuse|radiator|system|pwm-)?lüfter|\w*lüfter(?:set)?|ventilatoren"),
    (
        C.OPTICAL_DRIVE,
        r"(?:dvd|blu-?ray|bd|cd|optical|optisches)(?:[-± /+]*r?w?)?[- ]*(?:drive|writer|burner)s?",
    ),
    (C.OPTICAL_DRIVE, r"(?:dvd|blu-?ray|bd|optisches)[- ]?(?:brenner|laufwerk)|brenner"),
    (
        C.NETWORK,
        r"(?:(?:network|ethernet|lan|wlan|wi-?fi|wireless)[- ])+(?:interface )?(?:cards?|adapters?|karte)",
    ),
    (C.NETWORK, r"(?:netzwerk|lan-|wlan-|funk)(?:karte|adapter|stick)|nic"),
    (C.SOUND, r"(?:sound|audio)[- ](?:cards?|interfaces?)|soundkarten?|soundcards?"),
    (C.DISPLAY, r"monitors?|displays?|bildschirme?|tft|flat ?screens?"),
    (
        C.CABLE,
        r"(?:[\w.-]+[- ])?(?:cables?|kabel|leads?|cords?)(?: (?:kit|set|extensions?))?|\w*kabel(?:satz|set)?",
    ),
    (C.CABLE, r"(?:[\w.-]+[- ])?(?:adapters?|splitters?)(?: cable)?"),
    (C.ACCESSORY, r"(?:cable|kabel)[ -]?(?:ties|combs?|clips?|sleeves?|tidy|binder|kämme|kanal)"),
    (
        C.ACCESSORY,
        r"(?:[\w.-]+ )?(?:batter(?:y|ies)|batterien?|arms?|feet|handles?|grills?|shrouds?|standoffs?|"
        r"washers?|tools?)",
    ),
    (C.CABLE, r"(?:cable )?extensions?(?: (?:kit|set))?|kabelverlängerung(?:en)?|verlängerung|riser"),
    (
        C.ACCESSORY,
        r"(?:[\w-]+ )?(?:brackets?|holders?|mounts?|mounting (?:kit|frame)s?|stands?|sag supports?)",
    ),
    (
        C.ACCESSORY,
        r"(?:graphics card|gpu|vga) (?:support|brace|bracket|holder|stand)s?|\w*halter(?:ung)?|\w*stütze",
    ),
    (C.ACCESSORY, r"thermal (?:paste|grease|compound|pads?)|wärmeleit(?:paste|pads?)|screws?|schrauben"),
    (
        C.ACCESSORY,
        r"keyboards?|tastaturen?|mouse|mice|maus|mouse ?pads?|mauspads?|headsets?|speakers?|lautsprecher",
    ),
    (
        C.ACCESSORY,
        r"(?:led|rgb|argb)[- ](?:strips?|streifen|hub|controller)|fan (?:hub|controller)s?|lüftersteuerung",
    ),
    (C.ACCESSORY, r"(?:memory|sd|micro ?sd|cf) cards?|speicherkarten?|cartes? mémoire"),
    (
        C.ACCESSORY,
        r"usb[- ](?:sticks?|hubs?|flash drives?)|card readers?|kartenleser|antennas?|antennen?|webcams?",
    ),
    (
        C.ACCESSORY,
        r"dust filters?|staubfilter|anti-static bags?|zubehör|accessories|accessory|tpm(?: module| modul)?",
    ),
    (
        C.ACCESSORY,
        r"(?:drive|hard drive|hdd|ssd) (?:cage|caddy|tray|enclosure)s?|einbaurahmen|heat ?sink for .*",
    ),
    (
        C.ACCESSORY,
        r"(?:(?:soft|hard) )?tub(?:ing|es?)|fittings?|coolant|reservoirs?|radiators?|water ?blocks?|pumps?",
    ),
    (C.SYSTEM_SOFTWARE, r"operating system|betriebssystem|(?:windows )?(?:licen[cs]e|lizenz)(?: key)?|os"),
    (
        C.SERVICE,
        r"(?:(?:pc|system|unit)[- ])?(?:assembly|assembling|build service|installation|installing|setup)",
    ),
    (
        C.SERVICE,
        r"(?:\w+-)?(?:zusammenbau|montage)|(?:vor)?installation|einrichtung|systemtest|funktionstest|dauertest",
    ),
    (C.SERVICE, r"(?:[\w-]+ )?(?:burn-in|stress test|soak test|test run|testing|warranty|insurance)"),
    (
        C.SERVICE,
        r"(?:\w+)?garantie(?:verlängerung)?|service|dienstleistung|einbau|inbetriebnahme|übertaktung",
    ),
    (
        C.SERVICE,
        r"(?:(?:memory|ram|xmp|expo|docp)[- ]profile?|xmp|expo|docp)(?: \w+){0,2} (?:on|enabled|"
        r"activated|set|loaded)",
    ),
    (
        C.SERVICE,
        r"(?:memory|ram|xmp|expo|docp)[- ]profile?|(?:xmp|expo|docp)(?:-profil)? (?:ein|aktiv)\w*|"
        r"speicherprofil",
    ),
    (
        C.SERVICE,
        r"(?:fan|lüfter)[- ]?(?:curves?|kurven?|profiles?|profil)|resizable bar|secure boot|"
        r"wake[- ]on[- ]lan",
    ),
    (
        C.SERVICE,
        r"(?:bios|firmware|uefi|driver|treiber)[- ]?(?:updates?|updated|flash(?:ed|ing)?|installation)|"
        r"cable management",
    ),
    (
        C.SERVICE,
        r"(?:os|windows|linux|software|system|treiber|driver|betriebssystem)[- ]?install(?:ation|ed|iert)?",
    ),
    (
        C.CUSTOMISATION,
        r"(?:[\w-]+ )?(?:engrav(?:ing|ed)|lettering|paint(?:ing|ed|work)?|spray(?:ing|ed)|uv[- ]print)",
    ),
    (C.CUSTOMISATION, r"(?:[\w-]+)?(?:gravur|lackier(?:ung|t)|beschriftung|folierung|aufdruck|bedruckung)"),
    (
        C.CUSTOMISATION,
        r"(?:[\w-]+ )?(?:sleeving|vinyl wrap|(?:custom|custom-made) (?:print|colou?r|wrap|finish))",
    ),
)
_FRENCH: tuple[tuple[Category, str], ...] = (
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
NOUN = tuple(
    (category, re.compile(rf"(?<![\w-])(?:{words})(?![\w])", re.IGNORECASE))
    for category, words in (*_NOUNS, *_FRENCH)
)
