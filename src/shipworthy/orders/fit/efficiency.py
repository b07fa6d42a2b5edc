"""Least efficiency by 80 PLUS grade, and what a supply draws from the wall.

80 PLUS, 115 V internal: the published points of each level (two agreeing secondary tables). Between two
points the efficiency is interpolated linearly in the load; below the first point and above full load nothing
is said. A grade is the least efficiency, so the draw is at most that; at 230 V it is some percent less.
"""

from __future__ import annotations

import re
from itertools import pairwise

POINTS: dict[str, tuple[tuple[float, float], ...]] = {
    "basic": ((0.2, 0.80), (0.5, 0.80), (1.0, 0.80)),
    "Bronze": ((0.2, 0.82), (0.5, 0.85), (1.0, 0.82)),
    "Silver": ((0.2, 0.85), (0.5, 0.88), (1.0, 0.85)),
    "Gold": ((0.2, 0.87), (0.5, 0.90), (1.0, 0.87)),
    "Platinum": ((0.2, 0.90), (0.5, 0.92), (1.0, 0.89)),
    "Titanium": ((0.1, 0.90), (0.2, 0.92), (0.5, 0.94), (1.0, 0.90)),
}
"""By level: load by rating, and efficiency, both as ratios."""
_PLAIN = ("basic", "standard", "white", "")


def grade_of(text: str) -> str | None:
    """Return the level that a text names: `Gold` for `80+ Gold`, `basic` for a plain `80 PLUS`; None if it is
    none of the levels, or of another programme."""
    rest = re.sub(r"^\s*80\s*(?:\+|plus)\s*", "", text.strip(), flags=re.IGNORECASE).strip().casefold()
    if rest in _PLAIN:
        return "basic" if text.strip() else None
    return next((level for level in POINTS if level.casefold() == rest), None)


def efficiency(grade: str, load_ratio: float) -> float | None:
    """Return the least efficiency at a load; None outside of the points that the level has."""
    points = POINTS[grade]
    for (low, least), (high, most) in pairwise(points):
        if low <= load_ratio <= high:
            return least + (most - least) * (load_ratio - low) / (high - low)
    return None


def wall_w(load_w: float, rating_w: float, grade: str) -> float | None:
    """Return the most that is drawn from the wall at a DC load, in W: load by efficiency."""
    found = efficiency(grade, load_w / rating_w)
    return None if found is None else load_w / found
