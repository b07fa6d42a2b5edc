"""Which differences are substitutions that this very policy allows (ADR 0033).

A finding names the rule by which it was made one. It is a note only while the policy of the verdict has that
rule for its category and aspect: a comparison made under another policy opens nothing.
"""

from __future__ import annotations

from shipworthy.model.findings import Finding
from shipworthy.model.policy import Policy
from shipworthy.model.substituted import ORIGINAL, RULE, SUBSTITUTED_CODES


def is_allowed(finding: Finding, policy: Policy) -> bool:
    """Whether a difference is a substitution by a rule of the policy."""
    if finding.code not in SUBSTITUTED_CODES:
        return False
    named = finding.value(RULE)
    return any(
        rule.rule_id == named
        and rule.category is finding.category
        and finding.aspect in (*rule.besides, *(demand.aspect for demand in rule.demands))
        for rule in policy.substitutions
    )


def original_code(finding: Finding) -> str:
    """Return the code of the difference that a substitution was; of any other finding, its own."""
    return (str(finding.value(ORIGINAL) or "") if finding.code in SUBSTITUTED_CODES else "") or finding.code
