"""What was counted over one set of reference data."""

from __future__ import annotations

from dataclasses import dataclass, field

MOST_EXAMPLES = 20


@dataclass
class Tally:
    """Counts over one set.

    items: files or machines looked at. crashed: those on which a decoder raised. agree and differ: single
    fields held against the reference. unsupported: fields, blocks or structures that are named as not
    decoded. examples: the first differences and crashes, a line each.
    """

    set: str
    items: int = 0
    crashed: int = 0
    agree: int = 0
    differ: int = 0
    unsupported: int = 0
    examples: list[str] = field(default_factory=list)
    notes: dict[str, float | int | str] = field(default_factory=dict)

    def hold(self, item: str, name: str, want: object, got: object) -> bool:
        """Count one field as agreeing or not; keep an example of a difference."""
        if want == got:
            self.agree += 1
            return True
        self.differ += 1
        self.example(f"{item}: {name}: want {want!r}, got {got!r}")
        return False

    def crash(self, item: str, error: BaseException) -> None:
        self.crashed += 1
        self.example(f"{item}: {type(error).__name__}: {error}")

    def example(self, line: str) -> None:
        if len(self.examples) < MOST_EXAMPLES:
            self.examples.append(line[:300])
