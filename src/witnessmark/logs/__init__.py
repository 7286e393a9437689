"""Logs: bytes become arrays. A format is one module and one line in `FORMATS`.

`read_log` is for the confined child or for a bench; what it gives holds numpy arrays. What was found in the file (how
it is separated, its decimal mark, its units) comes with it and is shown: nothing is guessed in silence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib import import_module
from pathlib import Path

from witnessmark.logs.columns import Columns, Found
from witnessmark.problems import Place, Problem

__all__ = ["CAN_FORMATS", "FORMATS", "Columns", "Found", "listed", "read_log"]

FORMATS = {
    ".csv": "witnessmark.logs.csvlog",
    ".tsv": "witnessmark.logs.csvlog",
    ".txt": "witnessmark.logs.csvlog",
    ".parquet": "witnessmark.logs.parquetlog",
    ".mf4": "witnessmark.logs.mdflog",
    ".mdf": "witnessmark.logs.mdflog",
}
"""Ending of the file name to the module whose `read(source, shown, channels, options)` reads it."""

CAN_FORMATS = {
    ".asc": "witnessmark.logs.asclog",
    ".log": "witnessmark.logs.candumplog",
    ".blf": "witnessmark.logs.blflog",
    ".trc": "witnessmark.logs.trclog",
}
"""Ending of the file name to the module whose `frames(data, shown)` gives its CAN frames."""


_TEXT = ("separated text", "delimiter, decimal, encoding, header, units_row")
_CAN = "dbc, bus, join"
_SAID = {
    ".csv": _TEXT,
    ".tsv": _TEXT,
    ".txt": _TEXT,
    ".parquet": ("Apache Parquet", ""),
    ".mf4": ("ASAM MDF 4", "join"),
    ".mdf": ("ASAM MDF 4", "join"),
    ".asc": ("CAN frames, ASC text", _CAN),
    ".log": ("CAN frames, candump -L", _CAN),
    ".blf": ("CAN frames, BLF", _CAN),
    ".trc": ("CAN frames, TRC 1.1 to 2.1", _CAN),
}


def listed() -> tuple[tuple[str, str, str], ...]:
    """Ending, format and settings of every format, for a list."""
    return tuple((ending, *_SAID[ending]) for ending in (*FORMATS, *CAN_FORMATS))


def read_log(
    source: Path | bytes,
    shown: str,
    channels: Mapping[str, str | Sequence[str]] | None = None,
    options: Mapping[str, str] | None = None,
    dbc: tuple[Path | bytes, str] | None = None,
) -> Columns | tuple[Problem, ...]:
    """The columns of a log by channel, or everything that is wrong with it.

    `shown` is the file's path for a person; its ending chooses the format. `channels` names the columns of each
    channel: a name, a pattern (`cell_*`), or a list of these; without it every column is a channel of its own name.
    `options` is what the record says about the file (`{delimiter: ";", decimal: ","}`), `dbc` the DBC of a CAN log and
    its path for a person. In CAN and MDF logs `time` is the time, in s.
    """
    ending = Path(shown).suffix.lower()
    if ending in CAN_FORMATS:
        from witnessmark.logs import canlog

        return canlog.read(source, shown, channels, options or {}, import_module(CAN_FORMATS[ending]).frames, dbc)
    if ending not in FORMATS:
        known = ", ".join(sorted((*FORMATS, *CAN_FORMATS)))
        message = f"a log ending in '{ending}' is not read" if ending else "the log's name has no ending"
        return (Problem("log.format", message, f"export it in one of these: {known}", Place(shown)),)
    if dbc is not None:
        return (Problem("log.option", "only a CAN log takes a DBC", "take dbc out of the record", Place(shown)),)
    result = import_module(FORMATS[ending]).read(source, shown, channels, options or {})
    assert isinstance(result, (Columns, tuple))
    return result
