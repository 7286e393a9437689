"""Logs as Apache Parquet: columns of numbers, each read whole or refused with its row.

Whole numbers, broken numbers, decimals, yes and no (as 1 and 0) and durations (as seconds) are numbers. An instant of
the calendar is not: the time column has to count seconds. Nothing is filled in for an empty cell.

Source of the form: Apache Parquet format 2.x, read by the library Polars.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.logs.columns import Columns, Found, choose, keyed, unit_of
from witnessmark.logs.source import Fault, bytes_of, fault
from witnessmark.problems import Place, Problem

if TYPE_CHECKING:
    import polars as pl

__all__ = ["read"]


def read(
    source: Path | bytes,
    shown: str,
    channels: Mapping[str, str | Sequence[str]] | None,
    options: Mapping[str, str],
) -> Columns | tuple[Problem, ...]:
    """The columns of one Parquet file, or its problems. See `witnessmark.logs.read_log`; it takes no options."""
    try:
        if options:
            message = f"a Parquet file has no setting '{min(options)}'"
            raise fault("log.option", message, "take it out of the record", shown)
        return _read(bytes_of(source, shown), shown, channels)
    except Fault as found:
        return found.problems


def _read(data: bytes, shown: str, channels: Mapping[str, str | Sequence[str]] | None) -> Columns:
    import polars as pl

    try:
        frame = pl.scan_parquet(io.BytesIO(data))
        schema = frame.collect_schema()
        rows = int(frame.select(pl.len()).collect().item())
    except (pl.exceptions.PolarsError, OSError) as error:
        raise fault("log.format", f"this is no Parquet file: {str(error)[:200]}", "export it again", shown) from None
    if not rows:
        raise fault("log.no-rows", "the log has no rows", "export it again", shown)
    names = tuple(schema)
    chosen, problems = choose(names, channels, shown, 0)
    if problems:
        raise Fault(*problems)
    wanted = [name for name in names if any(name in taken for taken in chosen.values())]
    try:
        read = frame.select(wanted).collect()
    except (pl.exceptions.PolarsError, OSError) as error:
        raise fault("log.format", f"the file is damaged: {str(error)[:200]}", "export it again", shown) from None
    arrays: dict[str, Any] = {}
    faults: list[Problem] = []
    for column in read:
        values = _numbers(column, shown)
        if isinstance(values, Problem):
            faults.append(values)
        else:
            arrays[column.name] = values
    if faults:
        raise Fault(*faults)
    found = Found(
        form="Parquet",
        units={name: "s" if schema[name] == pl.Duration else unit_of(name) for name in names},
        rows_in=rows,
        rows_out=read.height,
        unused=tuple(name for name in names if name not in wanted),
        sha256=hashlib.sha256(data).hexdigest(),
        size=len(data),
    )
    return Columns(keyed(arrays, chosen, channels), chosen, found)


def _numbers(column: pl.Series, shown: str) -> Any:
    import polars as pl

    kind, name = column.dtype, column.name
    if kind == pl.Duration:
        column = column.dt.total_nanoseconds() / 1e9
    elif kind in (pl.Datetime, pl.Date, pl.Time):
        remedy = "export the time in seconds from the start"
        return Problem("log.cell", f"'{name}' is a date or time of day", remedy, Place(shown))
    elif not (kind.is_numeric() or kind == pl.Boolean):
        message = f"'{name}' is {str(kind).lower()}, not numbers"
        return Problem("log.cell", message, "export it as numbers", Place(shown))
    values = column.cast(pl.Float64)
    bad = (~values.is_finite().fill_null(False)).arg_true()
    if len(bad):
        row = int(bad[0])
        what = "is empty" if values[row] is None else f"is {values[row]}, which is not a finite number"
        message = f"row {row + 1} of '{name}' {what}" + (f", and {len(bad) - 1} more" if len(bad) > 1 else "")
        return Problem("log.cell", message, "mend the export, or cut the log before it", Place(shown))
    return values.to_numpy()
