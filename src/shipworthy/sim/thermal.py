"""Heat of the invented unit: where its power goes and what its sensors then show.

A Foster network: each stage holds a rise x with x' = (P R - x) / tau, and the temperature is ambient plus
the sum of all rises (the form of JESD51-14). For power that is constant over a step the exact answer is
x(t + dt) = P R + (x(t) - P R) exp(-dt / tau), so the size of a step costs no accuracy. The last stage's
resistance falls with the fan's speed. The constants are invented, and shorter than those of a real
cooler (which takes minutes), so that a short run shows a whole rise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

AIR_C = 24.0
FAN_LOW_RPM, FAN_HIGH_RPM = 600.0, 1400.0
_FAN_LOW_C, _FAN_HIGH_C = 40.0, 68.0
_BOARD_LOW_C, _BOARD_HIGH_C = 30.0, 45.0
_ROTOR_TAU_S = 1.0

IDLE_W, LOAD_W = 18.0, 67.0
_DRIVE_IDLE_W, _DRIVE_LOAD_W, _DRIVE_FULL_RATE = 1.4, 3.2, 1.5e9  # bytes a second
_AIR_FLOW_EXPONENT = 0.8  # of turbulent forced convection (Dittus and Boelter, from memory)


@dataclass(frozen=True)
class Stage:
    """One stage of a Foster network. resistance in K/W, tau in s."""

    resistance_k_w: float
    tau_s: float


CORE = Stage(0.08, 0.3)  # of a whole die; a core of n has n times as much
SPREADER = Stage(0.15, 3.0)
COOLER = Stage(0.288, 8.0)  # at the fan's highest speed
BOARD = (Stage(0.14, 12.0),)
DRIVE = (Stage(2.0, 2.0), Stage(3.0, 15.0))


def foster_step(
    stages: Sequence[Stage], rises_k: Sequence[float], power_w: float, dt_s: float
) -> tuple[float, ...]:
    """Return the rises of all stages, in K, after dt_s seconds of constant power. Exact."""
    return tuple(
        power_w * stage.resistance_k_w
        + (rise - power_w * stage.resistance_k_w) * math.exp(-dt_s / stage.tau_s)
        for stage, rise in zip(stages, rises_k, strict=True)
    )


@dataclass(frozen=True)
class Activity:
    """What the unit was doing over a step: use of each core from 0 to 1, and the drive's bytes a second."""

    cores: tuple[float, ...]
    drive_bytes_s: float = 0.0


@dataclass(frozen=True)
class Heat:
    """The model's state. Rises in K, fans in rpm."""

    cores_k: tuple[float, ...]
    cooler_k: tuple[float, ...]
    board_k: tuple[float, ...]
    drive_k: tuple[float, ...]
    cpu_fan_rpm: float
    case_fan_rpm: float

    @property
    def cores_c(self) -> tuple[float, ...]:
        return tuple(AIR_C + sum(self.cooler_k) + core for core in self.cores_k)

    @property
    def package_c(self) -> float:
        """The hottest core's, as a package sensor shows it."""
        return max(self.cores_c)

    @property
    def board_c(self) -> float:
        return AIR_C + 3.0 + sum(self.board_k)

    @property
    def drive_c(self) -> float:
        """The drive sits in the board's air."""
        return self.board_c + sum(self.drive_k)


def at_rest(cores: int) -> Heat:
    """Return the state in which an idle unit of that many cores ends up."""
    cold = Heat(
        cores_k=(0.0,) * cores,
        cooler_k=(0.0, 0.0),
        board_k=(0.0,),
        drive_k=(0.0, 0.0),
        cpu_fan_rpm=FAN_LOW_RPM,
        case_fan_rpm=FAN_LOW_RPM,
    )
    return step(cold, Activity((0.0,) * cores), 1000.0)


def step(heat: Heat, activity: Activity, dt_s: float) -> Heat:
    """Return the state after dt_s seconds of that activity. The fans answer to the state at its end."""
    cores = len(activity.cores)
    core_w = [core_power_w(use, cores) for use in activity.cores]
    own = Stage(CORE.resistance_k_w * cores, CORE.tau_s)
    moved = replace(
        heat,
        cores_k=tuple(foster_step([own], [k], w, dt_s)[0] for k, w in zip(heat.cores_k, core_w, strict=True)),
        cooler_k=foster_step([SPREADER, cooler_at(heat.cpu_fan_rpm)], heat.cooler_k, sum(core_w), dt_s),
        board_k=foster_step(BOARD, heat.board_k, sum(core_w), dt_s),
        drive_k=foster_step(DRIVE, heat.drive_k, drive_power_w(activity.drive_bytes_s), dt_s),
    )
    lag = math.exp(-dt_s / _ROTOR_TAU_S)
    wanted = fan_wanted_rpm(moved.package_c, _FAN_LOW_C, _FAN_HIGH_C)
    case_wanted = fan_wanted_rpm(moved.board_c, _BOARD_LOW_C, _BOARD_HIGH_C)
    return replace(
        moved,
        cpu_fan_rpm=wanted + (heat.cpu_fan_rpm - wanted) * lag,
        case_fan_rpm=case_wanted + (heat.case_fan_rpm - case_wanted) * lag,
    )


def cooler_at(fan_rpm: float) -> Stage:
    """Return the cooler's stage at that fan speed: more air, less resistance, a shorter constant."""
    thinner = (FAN_HIGH_RPM / fan_rpm) ** _AIR_FLOW_EXPONENT
    return Stage(COOLER.resistance_k_w * thinner, COOLER.tau_s * thinner)


def fan_wanted_rpm(temperature_c: float, low_c: float, high_c: float) -> float:
    """Return the speed that the firmware's curve asks for: a straight line between two temperatures."""
    share = min(max((temperature_c - low_c) / (high_c - low_c), 0.0), 1.0)
    return FAN_LOW_RPM + share * (FAN_HIGH_RPM - FAN_LOW_RPM)


def core_power_w(use: float, cores: int) -> float:
    """Return the power of one core of that many, with its share of what the package draws when idle."""
    return (IDLE_W + LOAD_W * use) / cores


def package_power_w(activity: Activity) -> float:
    """Return the power of the whole processor."""
    return sum(core_power_w(use, len(activity.cores)) for use in activity.cores)


def drive_power_w(bytes_s: float) -> float:
    """Return a drive's power at that rate, growing to its full rate and no further."""
    return _DRIVE_IDLE_W + _DRIVE_LOAD_W * min(bytes_s / _DRIVE_FULL_RATE, 1.0)
