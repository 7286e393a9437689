"""CAN logs as BLF, the packed form of ASC. Read by the library python-can; its frames are counted.

Source of the form: as its maker's tools write it; no public standard (common practice, no source).
"""

from __future__ import annotations

import io

from witnessmark.logs.canread import gather
from witnessmark.logs.frames import Frames
from witnessmark.logs.source import extra, fault

__all__ = ["frames"]


def frames(data: bytes, shown: str) -> Frames:
    """The data frames of one log; time counts from the first. Raises `Fault` for a damaged or unfinished file."""
    can = extra("can", "python-can", "a BLF file", shown)
    if not data.startswith(b"LOGG"):
        raise fault("log.format", "this is no BLF file", "export it again", shown)
    # Length of the file as its own header states it: a cut one ends in silence otherwise. Offset 16, 64 bits, little
    # endian; 0 while the logger still writes (from memory).
    stated = int.from_bytes(data[16:24], "little")
    if stated and stated > len(data):
        message = f"the file says {stated} bytes and has {len(data)}: it was cut off"
        raise fault("log.rows", message, "copy it again", shown)
    return gather(lambda: can.BLFReader(io.BytesIO(data)), shown, objects=int.from_bytes(data[32:36], "little"))
