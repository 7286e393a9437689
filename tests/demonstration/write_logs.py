"""Writes the invented logs of the demonstration: cell windows of a pack, and the voltage at a parted inlet.

    python -m tests.demonstration.write_logs

Every number comes from the formulas below and a small generator of our own, so that the files are the same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CELLS, SENSORS = 96, 12


def _noise(seed: int) -> Callable[[], float]:
    """Numbers from -1 to 1, the same everywhere: a linear congruential generator.

    Multiplier and increment: D. E. Knuth, The Art of Computer Programming, volume 2, 3.3.4, table 1 (from memory).
    """
    state = seed

    def following() -> float:
        nonlocal state
        state = (state * 6364136223846793005 + 1442695040888963407) % 2**64
        return (state >> 11) / 2**52 - 1.0

    return following


def _load(t: float, driving: float) -> float:
    """Current drawn, as a share of the largest: short pulls of a driver, then rest."""
    if t >= driving:
        return 0.0
    pulls = 0.30 + 0.25 * math.sin(t / 47.0) + 0.25 * math.sin(t / 19.0 + 1.0) + 0.2 * math.sin(t / 211.0)
    hill = 0.55 * math.exp(-(((t - 4710.0) / 60.0) ** 2)) + 0.8 * math.exp(-(((t - 7020.0) / 45.0) ** 2))
    return max(0.0, min(1.25, pulls + hill))


def cell_log(
    *, step: float, driving: float, total: float, start: float, end: float, charged: float, air: float, seed: int
) -> str:
    """Cell voltages in V and sensor temperatures in °C against time in s, driving first and charging then."""
    noise = _noise(seed)
    offset = [0.004 * noise() for _ in range(CELLS)]
    weak = [1.0 + 0.05 * noise() for _ in range(CELLS)]
    weak[40] = 1.42  # One cell sags more than its neighbours, as one always does.
    warm = [1.6 * noise() for _ in range(SENSORS)]
    lines = [
        "time,"
        + ",".join(f"cell_{i:02d}" for i in range(1, CELLS + 1))
        + ","
        + ",".join(f"temp_{i:02d}" for i in range(1, SENSORS + 1))
    ]
    lines.append("s" + ",V" * CELLS + ",°C" * SENSORS)
    heat = 0.0
    for row in range(int(total / step) + 1):
        t = row * step
        load = _load(t, driving)
        if t < driving:
            rest = start + (end - start) * (t / driving)
        else:
            share = (t - driving) / (total - driving)
            rest = end + (charged - end) * (1.0 - math.exp(-2.2 * share)) / (1.0 - math.exp(-2.2))
        heat += step * (0.0042 * load**2 + (0.0009 if t >= driving else 0.0) - heat * 0.00011)
        volts = [rest + offset[i] - 0.155 * load * weak[i] + 0.0015 * noise() for i in range(CELLS)]
        temps = [air + heat + warm[i] * (0.4 + heat / 20.0) + 0.08 * noise() for i in range(SENSORS)]
        lines.append(f"{t:g}," + ",".join(f"{v:.3f}" for v in volts) + "," + ",".join(f"{c:.1f}" for c in temps))
    return "\n".join(lines) + "\n"


def inlet_log() -> str:
    """Voltage between L and N of the inlet: mains until the plug parts at 0.255 s, at the crest, then a falling rest.

    Semicolons and decimal commas, as many loggers write: the record says so.
    """
    noise = _noise(8)
    parted, crest, tau = 0.255, 325.0, 0.4473
    lines = ["time;contact", "s;V"]
    for row in range(4001):
        t = row * 0.0005
        v = crest * math.sin(2 * math.pi * 50.0 * t) if t < parted else crest * math.exp(-(t - parted) / tau)
        v += 0.25 * noise()
        lines.append(f"{t:.4f};{v:.1f}".replace(".", ","))
    return "\n".join(lines) + "\n"


def logs() -> dict[str, str]:
    """Path from the root, and text, of every log."""
    van = "evidence/vehicles/van-07/logs/"
    return {
        van + "cell-window.csv": cell_log(
            step=10.0, driving=7200.0, total=10800.0, start=4.09, end=3.58, charged=4.05, air=12.0, seed=7
        ),
        van + "inlet-decay.csv": inlet_log(),
        "evidence/designs/pack-p2/logs/sample-b-window.csv": cell_log(
            step=30.0, driving=3300.0, total=14400.0, start=4.12, end=3.46, charged=4.16, air=22.0, seed=2
        ),
    }


def main() -> None:
    for name, text in logs().items():
        path = ROOT / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode())


if __name__ == "__main__":
    main()
