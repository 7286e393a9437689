"""An invented bus: a DBC, frames, and the same frames written in every format by the libraries that define them."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

__all__ = ["DBC", "FORMATS", "messages", "written"]

DBC = b"""VERSION ""
NS_ :
BS_:
BU_: BMS
BO_ 500 Battery: 8 BMS
 SG_ PackVoltage : 0|16@1+ (0.1,0) [0|1000] "V" BMS
 SG_ PackCurrent : 16|16@1- (0.1,0) [-3000|3000] "A" BMS
 SG_ CellMax : 39|16@0+ (0.001,0) [0|66] "V" BMS
 SG_ Temperature : 48|8@1+ (1,-40) [-40|215] "degC" BMS
 SG_ Contactor : 56|1@1+ (1,0) [0|1] "" BMS
BO_ 2566848512 Crash: 3 BMS
 SG_ CrashSwitch : 0|1@1+ (1,0) [0|1] "" BMS
 SG_ Delay : 15|12@0- (0.5,1) [0|0] "ms" BMS
"""
"""The second message has an identifier of 29 bits: 2566848512 is 2^31 + 0x18FF0000."""


def messages(count: int = 60, seed: int = 7) -> list[Any]:
    """Every tenth frame is of the crash switch; two frames at the end mean nothing to the DBC."""
    import can

    drawn = random.Random(seed)
    made = []
    for number in range(count):
        crash = number % 10 == 9
        data = drawn.randbytes(3) if crash else bytearray(drawn.randbytes(8))
        made.append(
            can.Message(
                timestamp=1_700_000_000.0 + number * 0.01,
                arbitration_id=0x18FF0000 if crash else 500,
                is_extended_id=crash,
                data=data if crash else _sane(bytearray(data)),
                channel=1,
                is_rx=True,
            )
        )
    return made


def _sane(data: bytearray) -> bytes:
    """Within the ranges that the DBC states: at most 1000.0 V."""
    data[1] &= 0x1F
    data[3] = (data[3] & 0x3F) - 0x20 & 0xFF if data[3] & 0x40 else data[3] & 0x3F
    return bytes(data)


def written(ending: str, folder: Path, made: list[Any]) -> bytes:
    """The bytes of the log as python-can writes it."""
    import can

    path = folder / f"bus{ending}"
    kinds = {".asc": can.ASCWriter, ".blf": can.BLFWriter, ".log": can.CanutilsLogWriter, ".trc": can.TRCWriter}
    with kinds[ending](path) as writer:
        for message in made:
            writer(message)
    return path.read_bytes()


FORMATS = (".asc", ".blf", ".log", ".trc")
