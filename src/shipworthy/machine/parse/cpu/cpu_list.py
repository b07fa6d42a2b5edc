"""The kernel's lists of processors, such as `0-3,8` (Documentation/admin-guide/cputopology in the kernel)."""

from __future__ import annotations

from collections.abc import Iterable

HIGHEST = 1 << 16  # far above the kernel's limit of 8,192: what is higher is no processor's number


def cpu_list(text: str) -> set[int]:
    """Return the numbers of a list such as `0-3,8,10-11`; parts that are none are left out, and so is
    what comes after as many as there can be."""
    numbers: set[int] = set()
    left = HIGHEST
    for part in text.strip().split(","):
        first, _, last = part.partition("-")
        if _is_number(first) and (_is_number(last) or not last):
            run = range(int(first), int(last or first) + 1)
            left -= len(run)
            if left < 0:
                break
            numbers.update(run)
    return numbers


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 6 and int(text) < HIGHEST


def cpu_list_text(numbers: Iterable[int]) -> str:
    """Return `0-3,8` for numbers in any order."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1][-1] = number
        else:
            runs.append([number, number])
    return ",".join(str(first) if first == last else f"{first}-{last}" for first, last in runs)
