"""The real command line on the machine at hand, with a plan of seconds: what the slow tests share."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

TINY_PLAN = """
schema = 1
plan_id = "tiny"
sample_hz = 4.0
memory_reserve_bytes = 1_000_000
disk_reserve_bytes = 1_000_000

[[steps]]
step = "together"
seconds = 1.5
[[steps.loads]]
load = "matrix"
size = 256
[[steps.loads]]
load = "march"
memory_share = 0.1
memory_cap_bytes = 33_554_432
[[steps.loads]]
load = "storage"
write_budget_bytes = 16_777_216

[[steps]]
step = "rest"
seconds = 0.5
"""


@dataclass(frozen=True)
class Shop:
    """A folder with what a bench has: key, trust list, plan, and an order of the machine at hand."""

    folder: Path

    @property
    def environment(self) -> dict[str, str]:
        return {**os.environ, "SHIPWORTHY_HOME": str(self.folder / "home"), "TZ": "UTC"}

    def command(self, *words: str) -> list[str]:
        return [sys.executable, "-m", "shipworthy", *words]

    def call(self, *words: str, check: int | None = 0) -> subprocess.CompletedProcess[str]:
        """Run a verb in the shop's folder; fail with its words unless it exits as expected."""
        done = subprocess.run(
            self.command(*words),
            cwd=self.folder,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=180,
        )
        assert "Traceback" not in done.stderr, done.stderr
        if check is not None:
            assert done.returncode == check, (words, done.returncode, done.stdout, done.stderr)
        return done

    def run_words(self, records: str = "records") -> tuple[str, ...]:
        """The words of a whole run on this machine that asks nobody anything."""
        return (
            *(
                "run",
                "order.toml",
                "--plan",
                "tiny.toml",
                "--records",
                records,
                "--packs",
                f"{records}-packs",
            ),
            *("--burn-in-anyway", "--seal-unanswered"),
        )


def open_shop(folder: Path) -> Shop:
    shop = Shop(folder)
    (folder / "tiny.toml").write_text(TINY_PLAN, "utf-8")
    shop.call("key", "make", "--name", "Test Bench")
    shop.call("read", "--into", "first-look")
    drafted = shop.call("order", "draft", "first-look", "--unit", "UNIT-1").stdout
    (folder / "order.toml").write_text(drafted, "utf-8")
    return shop
