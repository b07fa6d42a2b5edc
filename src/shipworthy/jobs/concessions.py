"""Reading the concessions of an attempt: only those whose signature holds count."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from shipworthy.model.base import Trouble, decode, read_bytes
from shipworthy.model.policy import Concession, Policy
from shipworthy.record.keys import TrustList, signer_kid, split_compact, verify_attached


def concessions_in(folder: Path, attempt_id: str, policy: Policy, trust: TrustList) -> Iterator[Concession]:
    """Return the concessions of an attempt whose signature holds and whose signer the policy lists.

    One that does not hold is Trouble, not silence: somebody has to look at it.
    """
    for path in sorted((folder / "concessions").glob("*.jws")):
        signature = read_bytes(path).decode("ascii", errors="replace")
        payload, _ = verify_attached(signature, trust)
        concession = decode(payload, Concession, path)
        kid = signer_kid(split_compact(signature)[0])
        listed = any((c.name, c.thumbprint) == (concession.by, kid) for c in policy.conceders)
        if concession.attempt_id != attempt_id or not listed:
            raise Trouble("is not a concession for this attempt by a listed person", path, "Take it away.")
        yield concession
