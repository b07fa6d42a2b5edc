"""Network adapters: that there is one of the sort that was sold, and that its link is as fast as sold."""

from __future__ import annotations

import re
from collections.abc import Iterable

from shipworthy.compare.identity import bare, ids_of, judge_ids, judge_maker
from shipworthy.compare.judgement import OF_LIKENESS, Judgement, cannot_tell, judged
from shipworthy.compare.pieces import PieceMatcher, Scene, Verdicts
from shipworthy.model.facts import Part
from shipworthy.model.orders import Expectation, OrderLine
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind, Unit
from shipworthy.words.likeness import short_name_likeness
from shipworthy.words.makers import maker_key, maker_keys
from shipworthy.words.models import model_text
from shipworthy.words.versions import find_wifi


def judge_speed(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the speed. A slower link proves nothing: the cable or the other end may be the slow one."""
    got = part.number("speed_mbit_s")
    if got is None:
        return cannot_tell(wish, part.why_absent("speed_mbit_s"))
    if isinstance(wish.want, int | float) and got >= wish.want:
        return judged(Outcome.CONFORMS, Aspect.SPEED, wish.want, got, unit=Unit.MEGABITS)
    return judged(Outcome.CANNOT_TELL, Aspect.SPEED, wish.want, got, unit=Unit.MEGABITS, ending="slower-link")


def judge_model(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare PCI ids if the order gives ids, else the name that something gives the device."""
    by_ids = judge_ids(wish, part)
    if by_ids is not None:
        return by_ids
    said = part.text("model")
    if not said:
        return cannot_tell(wish, part.why_absent("model"), ending="only-ids", ids=ids_of(part) or "none")
    want = bare(model_text(str(wish.want), Category.NETWORK), line, part)
    got = bare(model_text(said, Category.NETWORK), line, part)
    outcome = OF_LIKENESS[short_name_likeness(want, got, line.text if wish.words else "")]
    return judged(outcome, Aspect.MODEL, wish.want, said)


_GENERATIONS = ("Wi-Fi 4", "Wi-Fi 5", "Wi-Fi 6", "Wi-Fi 6E", "Wi-Fi 7", "Wi-Fi 8")  # Wi-Fi Alliance, in order
_CHIP_MAKERS = frozenset({"intel", "realtek", "broadcom", "qualcomm", "mediatek", "marvell", "nvidia"})
_HOUSES = {"atheros": "qualcomm", "aquantia": "marvell", "mellanox": "nvidia"}
"""Makers of chips that were bought: the ids of their chips bear either name (vendors of the PCI ID list)."""


def judge_technology(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the generation of Wi-Fi, where the device's name tells one; a later one does as well.

    A name that gives the letters of the standard leaves Wi-Fi 6 and 6E open: both are 802.11ax.
    """
    want = str(wish.want)
    if want not in _GENERATIONS:
        return _judge_plain_technology(wish, part)
    told = [word for fact in ("card_model", "model") for word in find_wifi(part.text(fact))]
    told = [word for word in told if word.meaning in _GENERATIONS]
    best = max(told, key=lambda word: _GENERATIONS.index(word.meaning), default=None)
    if best is None:
        return cannot_tell(wish, Absent.NOT_OFFERED, ending="generation-open")
    got = best.meaning
    if (want, got) == ("Wi-Fi 6E", "Wi-Fi 6") and "802.11" in best.words:
        return judged(Outcome.CANNOT_TELL, Aspect.TECHNOLOGY, want, best.words, ending="band-open")
    fits = _GENERATIONS.index(got) >= _GENERATIONS.index(want)
    return judged(Outcome.CONFORMS if fits else Outcome.DIFFERS, Aspect.TECHNOLOGY, want, got)


def _judge_plain_technology(wish: Expectation, part: Part) -> Judgement:
    """Compare `Wi-Fi` or `Ethernet` with what the driver calls it."""
    got = part.text("technology")
    if not got:
        return cannot_tell(wish, part.why_absent("technology"))
    same = got.casefold() == str(wish.want).casefold()
    return judged(Outcome.CONFORMS if same else Outcome.DIFFERS, Aspect.TECHNOLOGY, wish.want, got)


def judge_adapter_maker(wish: Expectation, line: OrderLine, part: Part) -> Judgement:
    """Compare the maker. The one that a PCI id names makes the chip, and sells it to whoever makes the card:
    it is a difference only where a maker of chips was sold."""
    found = judge_maker(wish, line, part)
    want, got = maker_key(str(wish.want)), maker_key(part.text("maker"))
    if found.outcome is Outcome.CONFORMS:
        return found
    if want and want in maker_keys(part.text("card_maker")):
        return judged(Outcome.CONFORMS, Aspect.MAKER, wish.want, part.text("card_maker"))
    houses = _HOUSES.get(want, want), _HOUSES.get(got, got)
    if _CHIP_MAKERS.issuperset(houses):
        same = houses[0] == houses[1]
        return judged(
            Outcome.CONFORMS if same else Outcome.DIFFERS, Aspect.MAKER, wish.want, part.text("maker")
        )
    if found.outcome is Outcome.DIFFERS:
        return judged(Outcome.CANNOT_TELL, Aspect.MAKER, wish.want, part.text("maker"), ending="unknown")
    return found


_WIRELESS = re.compile(r"\bWi-?\s?Fi\b|\bWLAN\b|\bwireless\s(?:LAN|network)\b|\b802\.11\w*", re.IGNORECASE)
_WIRED = re.compile(
    r"\bethernet\b|\b[\d.]*\s?GbE\b|\bRJ-?45\b|\bSFP\+?|\bwired\b|BASE-?T\w*\b", re.IGNORECASE
)
_CAGE = re.compile(r"\bQ?SFP(?:28|56)?\b|\bfib(?:re|er)\b", re.IGNORECASE)
_BLUETOOTH = re.compile(r"\bbluetooth\b", re.IGNORECASE)


def judge_sort(line: OrderLine, part: Part, scene: Scene) -> Iterable[Judgement]:
    """Judge whether an adapter is wireless where the line's text says so, and whether Bluetooth is there.

    Both are part of its presence: an adapter of another sort does not stand for it.
    """
    if _WIRELESS.search(line.text) and is_wireless(part) is None:
        why = part.why_absent("technology").value
        yield judged(Outcome.CANNOT_TELL, Aspect.PRESENCE, None, None, ending="sort-open", named={"why": why})
    if _BLUETOOTH.search(line.text) and not scene.reading.of_kind(PartKind.BLUETOOTH):
        # no difference: without its driver or firmware the kernel shows no adapter that is fitted
        yield judged(Outcome.CANNOT_TELL, Aspect.PRESENCE, None, None, ending="no-bluetooth")


def is_wireless(part: Part) -> bool | None:
    """Return whether an adapter is one of Wi-Fi; None where nothing tells (no driver has taken it)."""
    technology = part.text("technology")
    if technology:
        return technology == "Wi-Fi"
    told = part.value("wireless")
    return told if isinstance(told, bool) else None


def _suits(line: OrderLine, part: Part) -> bool:
    """Only a wireless adapter, or one of which nobody knows, stands for a wireless one; a wired one never
    has a wireless one stand for it, nor one that can never be as fast as sold."""
    wireless = is_wireless(part)
    if _is_too_slow(line, part):
        return False
    if _WIRELESS.search(line.text):
        return wireless is not False
    return not (wireless and _WIRED.search(line.text))


def _is_too_slow(line: OrderLine, part: Part) -> bool:
    """Whether the driver lists no mode as fast as sold: the board's own jack, where the card that was sold is
    dead. What a cage for modules can do depends on the module in it, so of those nothing is said."""
    wish, most = line.wanted(Aspect.SPEED), part.number("speed_max_mbit_s")
    if wish is None or most is None or _CAGE.search(line.text):
        return False
    return isinstance(wish.want, int | float) and most < wish.want


_ADAPTERS = PieceMatcher(
    Category.NETWORK,
    PartKind.NETWORK,
    judges={
        Aspect.SPEED: judge_speed,
        Aspect.MODEL: judge_model,
        Aspect.MAKER: judge_adapter_maker,
        Aspect.TECHNOLOGY: judge_technology,
    },
    tells=judge_sort,
    suits=_suits,
)
_BLUETOOTH_ONLY = PieceMatcher(
    Category.NETWORK, PartKind.BLUETOOTH, judges={Aspect.MAKER: judge_adapter_maker}
)


class NetworkMatcher:
    """Network adapters and, for lines that sell nothing but Bluetooth, Bluetooth adapters."""

    category = Category.NETWORK

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]:
        alone = tuple(line for line in lines if _BLUETOOTH.search(line.text) and not _is_network(line))
        others = tuple(line for line in lines if line not in alone)
        return (*_ADAPTERS.match(others, scene), *_BLUETOOTH_ONLY.match(alone, scene))


def _is_network(line: OrderLine) -> bool:
    return bool(_WIRELESS.search(line.text) or _WIRED.search(line.text) or line.wanted(Aspect.SPEED))


MATCHER = NetworkMatcher()
