"""Policies that come with the tool, and reading one of the shop's own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import resources

from shipworthy.model.base import Trouble, decode_toml
from shipworthy.model.policy import Direction, Policy, Substitution
from shipworthy.model.words import Aspect, Category, Origin, Unit

DEFAULT_POLICY = "workshop"
_CALLED, _MEND = "a valid policy", "Compare it with docs/reference/policy.md."
LIMIT_UNITS = {
    "temperature": Unit.CELSIUS,
    "storage/power_on_hours": Unit.HOURS,
    "storage/power_cycles": Unit.COUNT,
    "storage/written_bytes": Unit.BYTES,
    "storage/media_errors": Unit.COUNT,
}
"""What a policy can limit, and in which unit."""
NOT_BY_RULE = frozenset(
    {
        *(Aspect.PRESENCE, Aspect.CONDITION, Aspect.NEWNESS, Aspect.LOAD, Aspect.HEAT, Aspect.FANS),
        *(Aspect.PORTS, Aspect.CONFIGURATION, Aspect.IDENTITY, Aspect.ENDING, Aspect.HEALTH, Aspect.BLANK),
        *(Aspect.TEXT, Aspect.ACCOUNTS, Aspect.ACTIVATION, Aspect.DRIVERS, Aspect.ENCRYPTION),
    }
)
"""Aspects of which no part is the same or better than the one sold: that it is there, new, sound, works."""
BY_LABEL_ALONE = (Category.POWER_SUPPLY, Category.CASE, Category.COOLER, Category.FAN)
"""Parts that no machine reports: whether the one sold is there a person tells, by its label. Another one with
a label of its own may be a substitute; that nothing is there never is."""


def shipped_policy(*, burn_in_least_s: int | None = None) -> bytes:
    """Return the text of the default policy, as it is kept in the record.

    burn_in_least_s: another least time under load, in s, for demonstrations; the policy's id then says so.
    """
    text = resources.files(__name__).joinpath(f"{DEFAULT_POLICY}.toml").read_bytes()
    if burn_in_least_s is None:
        return text
    shorter = re.sub(rb"(?m)^burn_in_least_s = .*$", b"burn_in_least_s = %d" % burn_in_least_s, text)
    return re.sub(rb'(?m)^policy_id = "(.*)"$', rb'policy_id = "\1-shortened"', shorter)


def parse_policy(text: bytes, where: object) -> Policy:
    """Return the policy in a TOML text; Trouble, naming the place, for anything else."""
    policy = decode_toml(text, Policy, where, called=_CALLED, mend=_MEND)
    for complaint in _complaints(policy):
        raise Trouble(f"not {_CALLED}: {complaint}", where, _MEND)
    return policy


def _complaints(policy: Policy) -> Iterator[str]:
    """Yield what would make a rule or a limit silently count for nothing."""
    keys = [(rule.category, rule.aspect) for rule in policy.coverage]
    for rule in policy.coverage:
        named = f"the coverage rule on {rule.category.value}, {rule.aspect.value}"
        if not rule.by:
            yield f"{named} names no kind of evidence"
        if keys.count((rule.category, rule.aspect)) > 1:
            yield f"{named} stands there twice"
    for limit in policy.limits:
        named = f"the limit on {limit.quantity}"
        kind = "temperature" if limit.quantity.startswith("temperature/") else limit.quantity
        if kind not in LIMIT_UNITS:
            yield f"{named} is on nothing that is judged; there are {', '.join(LIMIT_UNITS)}"
        elif limit.unit is not LIMIT_UNITS[kind]:
            yield f"{named} is in {limit.unit.value or 'no unit'}, not in {LIMIT_UNITS[kind].value}"
        if limit.value < 0:
            yield f"{named} is {limit.value}, which nothing can reach"
        if limit.origin is Origin.DEVICE:
            yield f"{named} claims to be set by the device, which names its own"
    rules = [rule.rule_id for rule in policy.substitutions]
    for allowed in policy.substitutions:
        named = f"the substitution {allowed.rule_id}"
        if rules.count(allowed.rule_id) > 1:
            yield f"{named} stands there twice"
        for complaint in _complaints_of(allowed):
            yield f"{named} {complaint}"


def _complaints_of(rule: Substitution) -> Iterator[str]:
    demanded = [demand.aspect for demand in rule.demands]
    if rule.category in (Category.UNIT, Category.SERVICE, Category.CUSTOMISATION, Category.SYSTEM_SOFTWARE):
        yield f"is for {rule.category.value}, of which none can stand for another"
    by_label = rule.category in BY_LABEL_ALONE and Aspect.PRESENCE not in demanded
    for aspect in dict.fromkeys((*demanded, *rule.besides)):
        if aspect in NOT_BY_RULE and not (aspect is Aspect.PRESENCE and by_label):
            yield f"speaks of {aspect.value}, which no rule can allow to be otherwise"
        if demanded.count(aspect) + rule.besides.count(aspect) > 1:
            yield f"names {aspect.value} twice"
    if all(demand.direction is Direction.SAME for demand in rule.demands) and not rule.besides:
        yield "allows nothing to differ"
    for demand in rule.demands:
        if demand.direction is Direction.SAME and (demand.ranks or demand.most_ratio):
            yield f"asks for the same {demand.aspect.value}, and for how much more"
        if demand.ranks and demand.most_ratio:
            yield f"measures {demand.aspect.value} by words and by numbers"
        if len({_folded(word) for word in demand.ranks}) < len(demand.ranks) or len(demand.ranks) == 1:
            yield f"needs the words of {demand.aspect.value} each once, from the least to the most"


def _folded(word: str) -> str:
    return " ".join(word.casefold().split())
