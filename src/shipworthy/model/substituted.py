"""How a finding says that it is a substitution: words that `compare` writes and `verdict` reads."""

from __future__ import annotations

SUBSTITUTED = "line.substituted"
"""The difference with which the customer is told of it, in the shop's words."""
SUBSTITUTED_WITH = "line.substituted-with"
"""A difference that comes with it: another model, another part number."""
SUBSTITUTED_CODES = (SUBSTITUTED, SUBSTITUTED_WITH)
RULE, WORDS, ORIGINAL = "rule", "words", "original"
"""Values of such a finding: the rule's id, the shop's words, the code of the difference as it was found.
Want, got, place, evidence and all other values stay those of the difference itself."""
