"""System software: what a reading can show of a system that was sold. The rest a person is asked.

Nothing is judged by the system that runs, unless it runs from the drives that were sold.
"""

from __future__ import annotations

from collections.abc import Iterator

from shipworthy.compare.contents import ENCRYPTED, Contents, Delivered, file_systems
from shipworthy.compare.judgement import Judgement, judged, not_by_reading
from shipworthy.compare.pieces import Scene, Verdicts
from shipworthy.model.facts import Part
from shipworthy.model.orders import OrderLine
from shipworthy.model.reading import Reading
from shipworthy.model.words import Absent, Aspect, Category, Outcome, PartKind
from shipworthy.words.systems import editions_in, find_system, says_encrypted

_OF_USE = ("0x01", "0x02", "0x03", "0x04", "0x0c03", "0x0d")
"""PCI classes of devices that do something for a person: storage, network, display, sound, USB, radio (PCI
Code and ID Assignment Specification, chapter 1). Bridges and counters often have no driver by design."""
_OF_NO_USE = ("0x0c0380", "0x0c03fe")  # USB that is no host: a connector's other role
_ON_THE_BUS = (PartKind.PCI_DEVICE, PartKind.GRAPHICS, PartKind.NETWORK, PartKind.SOUND)
_OF_THEIR_PARENT = {"proxmox": {"debian"}, "truenas": {"debian", "freebsd"}}
"""Systems that bear the id of the system they are built upon (os-release of their releases; from memory): it
shows neither that they run nor that they do not."""
_EVERYWHERE = frozenset({"desktop"})
"""Words of editions that go with any other: what is left over says which one it is."""
_JUDGED = (Aspect.MODEL, Aspect.VERSION, Aspect.POSITION, Aspect.ENCRYPTION)


class SoftwareMatcher:
    """No part stands for such a line. It is judged by the drives of other lines, and so only when those are
    known: see `compare.delivered`."""

    category = Category.SYSTEM_SOFTWARE

    def match(self, lines: tuple[OrderLine, ...], scene: Scene) -> tuple[Verdicts, ...]:
        return tuple(Verdicts(line, (), ()) for line in lines)


MATCHER = SoftwareMatcher()


def judge_software(
    line: OrderLine, delivered: Delivered, reading: Reading, *, several: bool, left_blank: bool
) -> Iterator[Judgement]:
    """Return what the reading says of a system that was sold.

    several: whether the order sells more than one. left_blank: whether it asks for a drive to be left blank.
    """
    if delivered.drives and all(delivered.contents(d) is Contents.NOTHING for d in delivered.drives):
        yield judged(Outcome.DIFFERS, Aspect.PRESENCE, line.text, None, ending="no-drive-holds-one")
        return
    if delivered.runs:
        yield from _of_running(line, delivered, reading, several=several)
    yield _format(delivered, left_blank=left_blank)
    yield from _encryption(line, delivered)
    yield from (not_by_reading(wish) for wish in line.expectations if wish.aspect not in _JUDGED)


def _of_running(
    line: OrderLine, delivered: Delivered, reading: Reading, *, several: bool
) -> Iterator[Judgement]:
    name = _name(line, delivered, several=several)
    if name.outcome is Outcome.CONFORMS:
        yield judged(Outcome.CONFORMS, Aspect.PRESENCE, line.text, name.got, ending="runs")
    yield name
    if name.outcome is Outcome.DIFFERS or several:
        return  # what runs is not, or may not be, what this line sells
    yield _position(line, delivered)
    yield _drivers(reading)


def _name(line: OrderLine, delivered: Delivered, *, several: bool) -> Judgement:
    """Compare name, version and edition. What the order does not say is not asked of the system."""
    wish, version = line.wanted(Aspect.MODEL), line.wanted(Aspect.VERSION)
    sold = str(wish.want) if wish is not None else line.text
    want = find_system(sold) or find_system(line.text)
    system = delivered.system
    got = (system.text("system_text") or system.text("system_name")) if system is not None else ""
    key = system.text("system_id").casefold() if system is not None else ""
    if want is None or not key:
        return judged(Outcome.CANNOT_TELL, Aspect.MODEL, sold, got or None)
    if want.key != key:
        # A system may bear the id of its parent (`ID=ubuntu` of Kubuntu): only two names that we know differ.
        other = find_system(got) is not None and not several and key not in _OF_THEIR_PARENT.get(want.key, ())
        return judged(Outcome.DIFFERS if other else Outcome.CANNOT_TELL, Aspect.MODEL, sold, got)
    assert system is not None
    told = _version(str(version.want) if version is not None else want.version, system.text("system_version"))
    outcomes = {told, _edition(want.editions, f"{system.text('system_edition')} {got}")}
    worst = (Outcome.DIFFERS, Outcome.CANNOT_TELL, Outcome.CONFORMS)
    return judged(next(outcome for outcome in worst if outcome in outcomes), Aspect.MODEL, sold, got)


def _version(want: str, got: str) -> Outcome:
    """`24` sold and `24.04` there is so; `12.7` sold and `12` told leaves it open."""
    if not want or want == got or got.startswith(want + "."):
        return Outcome.CONFORMS
    return Outcome.CANNOT_TELL if not got or want.startswith(got + ".") else Outcome.DIFFERS


def _edition(want: frozenset[str], said: str) -> Outcome:
    """Compare words of editions. Two sides that name some, and none in common, name two editions."""
    got = editions_in(said)
    if want <= got:
        return Outcome.CONFORMS
    sold, there = want - _EVERYWHERE, got - _EVERYWHERE
    return Outcome.DIFFERS if sold and there and not sold & there else Outcome.CANNOT_TELL


def _position(line: OrderLine, delivered: Delivered) -> Judgement:
    on = [drive for drive in delivered.drives if delivered.holds_what_runs(drive)]
    names = ", ".join(drive.text("model") or drive.place for drive in on)
    wish = line.wanted(Aspect.POSITION)
    sure = wish is None and len(delivered.drives) == 1
    return judged(
        Outcome.CONFORMS if sure else Outcome.CANNOT_TELL,
        Aspect.POSITION,
        wish.want if wish is not None else None,
        names,
    )


def _drivers(reading: Reading) -> Judgement:
    """Say which devices have no driver. One that lacks its firmware has none either: it was given up."""
    devices = [part for part in reading.parts if part.kind in _ON_THE_BUS and _is_of_use(part)]
    without = sorted((part for part in devices if not part.text("driver")), key=lambda part: part.place)
    if not devices:
        named = {"why": Absent.NOT_OFFERED.value}
        return judged(Outcome.CANNOT_TELL, Aspect.DRIVERS, None, None, named=named)
    if without:
        names = ", ".join(_device(part) for part in without)
        return judged(Outcome.DIFFERS, Aspect.DRIVERS, None, len(without), named={"devices": names})
    return judged(Outcome.CONFORMS, Aspect.DRIVERS, None, len(devices))


def _is_of_use(part: Part) -> bool:
    kind = part.text("class")
    return kind.startswith(_OF_USE) and kind not in _OF_NO_USE


def _device(part: Part) -> str:
    return f"{part.text('model') or part.text('device_id') or 'a device'} at {part.place}"


def _format(delivered: Delivered, *, left_blank: bool) -> Judgement:
    """Whether the drives beside the system's own can be used. Which one is its own, only one that runs tells;
    but each drive needs something on it."""
    if len(delivered.drives) == 1:
        return judged(Outcome.CONFORMS, Aspect.FORMAT, None, None, ending="no-other")
    told = {drive.place: file_systems(drive) for drive in delivered.drives}
    told |= {d.place: ("",) for d in delivered.drives if delivered.holds_what_runs(d)}
    bare = [d.text("model") or d.place for d in delivered.drives if told[d.place] == ()]
    if bare and not left_blank:
        return judged(Outcome.DIFFERS, Aspect.FORMAT, None, ", ".join(bare))
    sure = bool(told) and all(told.values())
    return judged(Outcome.CONFORMS if sure else Outcome.CANNOT_TELL, Aspect.FORMAT, None, None)


def _encryption(line: OrderLine, delivered: Delivered) -> Iterator[Judgement]:
    """A signature of encryption shows that it is on. That there is none shows that it is off only as far as
    signatures go: where encryption was sold, a person looks."""
    wish = line.wanted(Aspect.ENCRYPTION)
    want = (
        says_encrypted(line.text) if wish is None else says_encrypted(f"encryption {wish.want}") is not False
    )
    told = [file_systems(drive) for drive in delivered.drives]
    found = sorted({kind for kinds in told for kind in kinds or () if kind in ENCRYPTED})
    if found:
        outcome = {True: Outcome.CONFORMS, False: Outcome.DIFFERS, None: Outcome.CANNOT_TELL}[want]
        yield judged(outcome, Aspect.ENCRYPTION, None, ", ".join(found))
    elif told and None not in told:
        outcome = Outcome.CANNOT_TELL if want else Outcome.CONFORMS
        yield judged(outcome, Aspect.ENCRYPTION, None, None, ending="open" if want else "none-found")
