"""What a reading of the machine gives a handover: connectors, serials, links, configuration."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from shipworthy.handover.kept import Kept
from shipworthy.handover.limits import limits_table
from shipworthy.handover.naming import kind_text, maker_and_model, part_at, part_title
from shipworthy.handover.phrases import listed, say, time_text
from shipworthy.handover.settings import setting_text, value_text
from shipworthy.handover.view import Block, Code, Entries, Entry, Pair, Pairs, Prose, Section, table
from shipworthy.messages import quantity_text
from shipworthy.model.facts import Part
from shipworthy.model.reading import Port, PortState, Reading
from shipworthy.model.words import Absent, PartKind, Unit

_PORT_ORDER = (PortState.USE, PortState.DO_NOT_USE, PortState.UNTESTED)
_ADVICE = {
    PortState.USE: "ports.use",
    PortState.DO_NOT_USE: "ports.do-not-use",
    PortState.UNTESTED: "ports.untested",
}
_WITH_SERIAL = (
    PartKind.SYSTEM, PartKind.CHASSIS, PartKind.BOARD, PartKind.FIRMWARE, PartKind.PROCESSOR,
    PartKind.MEMORY_MODULE, PartKind.STORAGE, PartKind.GRAPHICS, PartKind.NETWORK, PartKind.DISPLAY,
)  # fmt: skip


def ports_section(kept: Kept) -> Section:
    """Return the connectors, the one to use first."""
    heading = say("heading.ports")
    if kept.before is None:
        return Section("monitor", heading, "", (Prose(say("ports.unread")),))
    ports = sorted(kept.before.ports, key=lambda port: _PORT_ORDER.index(port.state))
    if not ports:
        return Section("monitor", heading, "", (Prose(say("ports.unknown")),))
    use = any(port.state is PortState.USE for port in ports)
    return Section(
        "monitor",
        heading,
        say("ports.lead" if use else "ports.none-to-use"),
        (Entries(tuple(_port_entry(kept, port) for port in ports)),),
    )


def _port_entry(kept: Kept, port: Port) -> Entry:
    part = part_at(kept.before, port.occupied_by)
    seen = part_title(part) if part else port.occupied_by
    return Entry(
        title=say("brackets", what=port.connector, text=port.label) if port.label else port.connector,
        state=say(_ADVICE[port.state]),
        strong=port.state is PortState.USE,
        details=(
            say("ports.seen", what=seen) if seen else say("ports.empty"),
            say("ports.wired", place=port.place),
        ),
    )


def serials_section(kept: Kept) -> Section:
    """Return every part that has a serial number, or should, and where it is wired."""
    heading = say("heading.serials")
    if kept.before is None:
        return Section("serials", heading, "", (Prose(say("serials.unread")),))
    columns = tuple(say(f"label.{label}") for label in ("part", "model", "serial", "wired", "firmware"))
    parts = [part for kind in _WITH_SERIAL for part in kept.before.of_kind(kind) if _fitted(part)]
    blocks: list[Block] = [table("", columns, tuple(_serial_row(part) for part in parts))]
    places = kept.comparison.unclaimed if kept.comparison else ()
    unclaimed = [part_at(kept.before, place) for place in places]
    if any(unclaimed):
        what = listed(say("brackets", what=part_title(p), text=p.place) for p in unclaimed if p)
        blocks.append(Prose(say("serials.unclaimed", what=what)))
    return Section("serials", heading, say("lead.serials"), tuple(blocks))


def _fitted(part: Part) -> bool:
    """Whether it is a part, and not a slot that says it is empty."""
    return all(part.why_absent(name) is not Absent.NOT_FITTED for name in ("size_bytes", "model"))


def _serial_row(part: Part) -> tuple[str, ...]:
    firmware = part.text("firmware_version") or part.text("microcode")
    if part.kind is PartKind.FIRMWARE:
        firmware = " ".join(filter(None, (part.text("version"), part.text("date"))))
    return (kind_text(part), maker_and_model(part), _serial_text(part), part.place, firmware)


def _serial_text(part: Part) -> str:
    if part.text("serial"):
        return part.text("serial")
    if part.text("mac"):
        return say("mac", mac=part.text("mac"))
    if part.kind in (PartKind.FIRMWARE, PartKind.PROCESSOR):
        return ""  # they have none that software can read
    return say(f"serial.{part.why_absent('serial').value}")


def technical_section(kept: Kept, zone: tzinfo | None) -> Section:
    """Return what somebody needs who compares the unit with what left the workshop."""
    blocks = (
        Pairs(tuple(_identity(kept, zone))),
        *_configuration(kept),
        *_links(kept),
        *limits_table(kept),
    )
    return Section("technical", say("heading.technical"), say("lead.technical"), blocks)


def _identity(kept: Kept, zone: tzinfo | None) -> Iterator[Pair]:
    attempt = kept.attempt
    yield Pair(say("label.attempt-id"), attempt.attempt_id)
    yield Pair(say("label.opened"), time_text(attempt.opened, zone))
    if kept.before:
        yield Pair(say("label.read"), time_text(kept.before.taken, zone))
    if kept.after:
        yield Pair(say("label.read-again"), time_text(kept.after.taken, zone))
    yield Pair(say("label.zone"), attempt.zone if zone else say("time.zone-unknown", zone=attempt.zone))
    yield Pair(say("label.tool"), f"{attempt.tool.name} {attempt.tool.version}")
    yield Pair(say("label.policy"), kept.decision.policy_id)
    yield Pair(say("label.record"), kept.digest)
    yield Pair(say("label.configuration"), kept.decision.configuration or say("silent"))


def _configuration(kept: Kept) -> Iterator[Block]:
    if kept.before is None:
        return
    columns = (say("label.key"), say("label.value"))
    rows = tuple((setting_text(i.key), value_text(i.key, i.value)) for i in kept.before.configuration.items)
    if rows:
        yield table(say("table.configuration"), columns, rows)
    yield from _changes(kept.before, kept.after)


def _changes(before: Reading, after: Reading | None) -> Iterator[Block]:
    if after is None:
        yield Prose(say("configuration.once"))
        return
    changes = before.configuration.changes_to(after.configuration)
    if not changes:
        yield Prose(say("configuration.same"))
        return
    columns = tuple(say(f"label.{label}") for label in ("key", "before", "after"))
    rows = tuple((setting_text(key), value_text(key, was), value_text(key, now)) for key, was, now in changes)
    yield table(say("table.changes"), columns, rows)


def _links(kept: Kept) -> Iterator[Block]:
    parts = [part for part in (kept.before.parts if kept.before else ()) if part.fact("link_width")]
    if parts:
        columns = ("device", "wired", "width", "most-width", "speed", "most-speed")
        rows = tuple(
            (
                part_title(part),
                part.place,
                _link_text(part, "link_width"),
                _link_text(part, "link_max_width"),
                _link_text(part, "link_speed_gt_s"),
                _link_text(part, "link_max_speed_gt_s"),
            )
            for part in parts
        )
        yield table(say("table.links"), tuple(say(f"label.{column}") for column in columns), rows)


def _link_text(part: Part, name: str) -> str:
    value = part.value(name)
    if value is None:
        return say(f"serial.{part.why_absent(name).value}")
    text = quantity_text(value, Unit.NONE)
    return say("speed.gt", value=text) if name.endswith("_gt_s") else text


def genuine_section(kept: Kept, *, signed: bool) -> Section:
    """Return how a reader checks the page, without trusting it."""
    attempt = kept.attempt
    if not signed:
        blocks: tuple[Block, ...] = (Prose(say("unsigned")), Pairs((Pair(say("label.record"), kept.digest),)))
    else:
        expected = f"{attempt.unit_id}/{attempt.number}/{kept.digest}"
        blocks = (
            Prose(say("genuine.how")),
            Code(f"shipworthy verify . --expect {expected}"),
            Prose(say("genuine.expect")),
        )
    return Section("genuine", say("heading.genuine"), say("genuine.lead"), blocks)
