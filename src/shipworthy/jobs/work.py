"""One attempt being worked on, and what its steps say. The folder is the truth: a step that is run after a
kill finds everything in files, and nothing in memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import msgspec

from shipworthy.jobs.errands import Bench, RunRequest
from shipworthy.model.base import (
    RecordPath,
    encode_pretty,
    read_bytes,
    read_record,
)
from shipworthy.model.orders import Order
from shipworthy.model.policy import Policy
from shipworthy.record.attempt import OpenAttempt
from shipworthy.verdict.policies import parse_policy

Wrote = tuple[RecordPath, ...]
S = TypeVar("S", bound=msgspec.Struct)


class Stopped(Exception):
    """The person stopped the run; the attempt stays open and can be taken up."""


@dataclass(frozen=True)
class Skipped:
    """A step was left out, and why (a code)."""

    why: str


@dataclass(frozen=True)
class Work:
    """One attempt being worked on."""

    attempt: OpenAttempt
    request: RunRequest
    bench: Bench

    def load(self, name: str, kind: type[S]) -> S:
        return read_record(self.attempt.folder / name, kind)

    def save(self, name: str, record: msgspec.Struct) -> str:
        self.attempt.write(name, encode_pretty(record))
        return name

    def has(self, name: str) -> bool:
        return (self.attempt.folder / name).exists()

    def policy(self) -> Policy:
        path = self.attempt.folder / "policy.toml"
        return parse_policy(read_bytes(path), path)

    def order(self) -> Order:
        return self.load("order/order.json", Order)
