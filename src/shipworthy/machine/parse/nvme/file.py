"""A file with one page of an NVMe drive as a source: Identify Controller or Namespace, or log page 02h."""

from __future__ import annotations

from collections.abc import Callable

from shipworthy.machine.parse.drive_pages import page_remarks, told
from shipworthy.machine.parse.nvme.pages import (
    CONTROLLER_BYTES,
    HEALTH_BYTES,
    NAMESPACE_BYTES,
    POWER_STATE_BYTES,
    POWER_STATES_AT,
    controller_facts,
    health_facts,
    namespace_facts,
    number,
    power_w,
)
from shipworthy.machine.raw import Parsed, Reply, Section, parsed_each
from shipworthy.model.facts import Said, Sighting
from shipworthy.model.words import Absent, PartKind


def parse_controller(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one Identify Controller page."""
    return _dumps(replies, CONTROLLER_BYTES, controller_facts)


def parse_namespace(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one Identify Namespace page."""
    return _dumps(replies, NAMESPACE_BYTES, namespace_facts)


def parse_health(replies: tuple[Reply, ...]) -> Parsed:
    """Each reply is one log page 02h."""
    return _dumps(replies, HEALTH_BYTES, health_facts)


def _dumps(replies: tuple[Reply, ...], size: int, facts: Callable[[bytes], tuple[Said, ...]]) -> Parsed:
    def parse_one(reply: Reply) -> Parsed:
        sighting = Sighting(
            kind=PartKind.STORAGE, place=f"file:{reply.id}", source=reply.id, said=facts(reply.data)
        )
        return Parsed((sighting,), remarks=page_remarks(reply, size, reply.locator))

    return parsed_each(replies, parse_one)


def describe_controller(data: bytes) -> tuple[Section, ...]:
    """Return the fields of Identify Controller, and a section for each power state."""
    states = data[263] + 1 if len(data) >= CONTROLLER_BYTES else 0
    return (
        _section("Identify Controller", "0", controller_facts(data)),
        *(_power_state(data, index) for index in range(min(states, 32))),
    )


def _power_state(data: bytes, index: int) -> Section:
    at = POWER_STATES_AT + index * POWER_STATE_BYTES
    descriptor = data[at : at + POWER_STATE_BYTES]
    power = power_w(descriptor)
    return Section(
        f"power state {index}",
        f"{at}",
        (
            ("power_most_w", power.value if isinstance(power, Absent) else power),
            ("operational", not descriptor[3] & 2),
            ("entry_latency_us", number(descriptor, 4, 4)),
            ("exit_latency_us", number(descriptor, 8, 4)),
        ),
    )


def describe_namespace(data: bytes) -> tuple[Section, ...]:
    """Return the fields of Identify Namespace."""
    return (_section("Identify Namespace", "0", namespace_facts(data)),)


def describe_health(data: bytes) -> tuple[Section, ...]:
    """Return the fields of log page 02h."""
    return (_section("SMART / Health Information", "0", health_facts(data)),)


def _section(title: str, where: str, fields: tuple[Said, ...]) -> Section:
    return Section(title, where, told(fields))
