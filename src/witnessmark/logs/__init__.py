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

__all__ = ["FORMATS", "Columns", "Found", "read_log"]

FORMATS = {
    ".csv": "witnessmark.logs.csvlog",
    ".tsv": "witnessmark.logs.csvlog",
    ".txt": "witnessmark.logs.csvlog",
}
"""Ending of the file name to the module whose `read(data, shown, channels, options)` reads it."""


def read_log(
    source: Path | bytes,
    shown: str,
    channels: Mapping[str, str | Sequence[str]] | None = None,
    options: Mapping[str, str] | None = None,
) -> Columns | tuple[Problem, ...]:
    """The columns of a log by channel, or everything that is wrong with it.

    `shown` is the file's path for a person; its ending chooses the format. `channels` names the columns of each
    channel: a name, a pattern (`cell_*`), or a list of these; without it every column is a channel of its own name.
    `options` is what the record says about the file (`{delimiter: ";", decimal: ","}`).
    """
    ending = Path(shown).suffix.lower()
    if ending not in FORMATS:
        known = ", ".join(sorted(FORMATS))
        message = f"a log ending in '{ending}' is not read" if ending else "the log's name has no ending"
        return (Problem("log.format", message, f"export it in one of these: {known}", Place(shown)),)
    result = import_module(FORMATS[ending]).read(source, shown, channels, options or {})
    assert isinstance(result, (Columns, tuple))
    return result
