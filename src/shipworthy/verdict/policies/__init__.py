"""Policies that come with the tool, and reading one of the shop's own."""

from __future__ import annotations

import tomllib
from importlib import resources

import msgspec

from shipworthy.model.base import Trouble
from shipworthy.model.policy import Policy

DEFAULT_POLICY = "workshop"


def shipped_policy() -> bytes:
    """Return the text of the default policy, as it is kept in the record."""
    return resources.files(__name__).joinpath(f"{DEFAULT_POLICY}.toml").read_bytes()


def parse_policy(text: bytes, where: object) -> Policy:
    """Return the policy in a TOML text; Trouble, naming the place, for anything else."""
    try:
        return msgspec.convert(tomllib.loads(text.decode("utf-8")), type=Policy)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, msgspec.ValidationError) as error:
        raise Trouble(
            f"not a valid policy: {error}", where, "Compare it with docs/reference/policy.md."
        ) from error
