"""Logs as separated text: every cell is read as text and must be a number in full.

Separator, decimal mark, encoding, header and units row are found by looking at the file. Where two readings of it are
possible the log is refused, and the message says what to write in the record. Lines above the names, as battery cyclers
write them, are passed over when the record says in which line the names stand; a column that is `h:mm:ss` throughout,
with days before it or not, is a duration in s. A cell that is not a finite number, a row
that is too short or too long, a name given twice: each is a problem with its row.

Source of the form: RFC 4180 (2005), section 2, with `;` and tab as separators too (common practice, no source).
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.logs.columns import Columns, Found, choose, keyed, unit_of
from witnessmark.logs.source import MAX_BYTES, Fault, bytes_of
from witnessmark.problems import Place, Problem

if TYPE_CHECKING:
    import polars as pl

__all__ = ["MAX_BYTES", "read"]

MAX_COLUMNS = 2_000
MAX_QUOTED = 50_000_000
_SAMPLE = 200
_SHOWN = 10
_OPTIONS = ("decimal", "delimiter", "encoding", "header")
_DELIMITERS = {",": ",", ";": ";", "tab": "\t", "\t": "\t"}
_NUMBER = r"^[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,4})?$"
_CLOCK = r"^(?:([0-9]{1,4})d? )?([0-9]{1,5}):([0-5][0-9]):([0-5][0-9](?:\.[0-9]{1,9})?)$"
"""A duration as battery cyclers export it: days, hours, minutes, seconds (common practice, no source)."""
_WORDS = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass
class _File:
    """What is known of the file so far; `names` are the columns, `body` the bytes below header and units row."""

    shown: str
    encoding: str = ""
    delimiter: str = ""
    header_line: int = 1
    units_line: int = 0
    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    first_line: int = 2
    body: bytes = b""
    clocks: tuple[str, ...] = ()

    def problem(self, code: str, message: str, remedy: str, line: int = 0, column: int = 0) -> Problem:
        return Problem(code, message, remedy, Place(self.shown, line, column or (1 if line else 0)))


def read(
    source: Path | bytes,
    shown: str,
    channels: Mapping[str, str | Sequence[str]] | None,
    options: Mapping[str, str],
) -> Columns | tuple[Problem, ...]:
    """The columns of one file, or its problems (at most ten cells are named). See `witnessmark.logs.read_log`."""
    try:
        return _read(source, shown, channels, options)
    except Fault as fault:
        return fault.problems


def _read(
    source: Path | bytes, shown: str, channels: Mapping[str, str | Sequence[str]] | None, options: Mapping[str, str]
) -> Columns:
    file = _File(shown)
    _check_options(file, options)
    data = bytes_of(source, shown)
    digest, size = hashlib.sha256(data).hexdigest(), len(data)
    data = _as_utf8(file, data, options.get("encoding", ""))
    _lay_out(file, data, options)
    chosen = _chosen(file, channels)
    rows = file.body.count(b"\n") + 1
    _check_rows(file, rows)
    wanted = sorted({file.names.index(name) for names in chosen.values() for name in names})
    frame = _texts(file, wanted)
    if frame.height != rows:
        raise Fault(file.problem("log.rows", f"{rows} lines gave {frame.height} rows", "export it without quotes"))
    decimal = options.get("decimal") or _decimal(file, frame)
    arrays = _numbers(file, frame, decimal)
    used = {file.names[index] for index in wanted}
    found = Found(
        encoding=file.encoding,
        delimiter=_WORDS[file.delimiter],
        decimal=decimal,
        header_line=file.header_line,
        units_line=file.units_line,
        units=dict(zip(file.names, file.units, strict=True)) | dict.fromkeys(file.clocks, "s"),
        notes=tuple(f"'{name}' stands as hours, minutes and seconds, and is taken in s" for name in file.clocks),
        rows_in=rows,
        rows_out=frame.height,
        unused=tuple(name for name in dict.fromkeys(file.names) if name and name not in used),
        sha256=digest,
        size=size,
    )
    by_name = {file.names[index]: values for index, values in arrays.items()}
    return Columns(keyed(by_name, chosen, channels), chosen, found)


def _check_options(file: _File, options: Mapping[str, str]) -> None:
    problems = []
    for key, value in options.items():
        if key not in _OPTIONS:
            known = ", ".join(_OPTIONS)
            problems.append(file.problem("log.option", f"a log has no setting '{key}'", f"use one of: {known}"))
        elif (
            (key == "delimiter" and value not in _DELIMITERS)
            or (key == "decimal" and value not in (",", "."))
            or (key == "encoding" and value not in ("utf-8", "cp1252"))
            or (key == "header" and not re.fullmatch("[1-9][0-9]{0,3}", value))
        ):
            remedy = {
                "delimiter": 'write "," or ";" or tab',
                "decimal": 'write "," or "."',
                "encoding": "write utf-8 or cp1252",
                "header": "write the number of the line that holds the names",
            }[key]
            problems.append(file.problem("log.option", f"'{value[:40]}' is no {key} of a log", remedy))
    if options.get("delimiter") == "," and options.get("decimal") == ",":
        problems.append(
            file.problem("log.option", "the comma cannot both separate and be the decimal mark", "export with ;")
        )
    if problems:
        raise Fault(*problems)


def _as_utf8(file: _File, data: bytes, encoding: str) -> bytes:
    """The text as UTF-8 without a mark; CR LF becomes LF."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise Fault(file.problem("log.encoding", "the log is UTF-16", "export it as UTF-8"))
    if b"\0" in data:
        raise Fault(file.problem("log.encoding", "the log holds zero bytes; it is no text", "export it as CSV text"))
    if data.startswith(b"\xef\xbb\xbf"):
        file.encoding, data = "utf-8-sig", data[3:]
    else:
        file.encoding = encoding or ("utf-8" if data.isascii() or _is_utf8(data) else "cp1252")
    try:
        if file.encoding == "cp1252":
            data = data.decode("cp1252").encode()
        elif not data.isascii() and not _is_utf8(data):
            raise UnicodeDecodeError("utf-8", b"", 0, 1, "")
    except UnicodeDecodeError:
        raise Fault(
            file.problem("log.encoding", f"the log is not {file.encoding} text", "export it as UTF-8")
        ) from None
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n")
        if b"\r" in data:
            raise Fault(file.problem("log.line-ends", "lines end in CR alone", "export it with LF or CR LF"))
    return data


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _lay_out(file: _File, data: bytes, options: Mapping[str, str]) -> None:
    """Header, separator, names, units row and where the numbers begin."""
    data = data.rstrip(b"\n\t ;,") if not data.strip(b"\n\t ;,") else data.rstrip(b"\n")
    if not data:
        raise Fault(file.problem("log.empty", "the log is empty", "export it again"))
    start = 0
    file.header_line = int(options.get("header", "1"))
    for _ in range(file.header_line - 1):
        start = data.find(b"\n", start) + 1
        if start == 0:
            raise Fault(
                file.problem("log.header", f"the log has fewer than {file.header_line} lines", "correct `header`")
            )
    end = start
    for _ in range(_SAMPLE):
        end = data.find(b"\n", end) + 1
        if end == 0:
            end = len(data)
            break
    lines = data[start:end].decode("utf-8").rstrip("\n").split("\n")
    delimiter = options.get("delimiter")
    file.delimiter = _DELIMITERS[delimiter] if delimiter else _delimiter(file, lines)
    header = [unicodedata.normalize("NFC", name.strip()) for name in _cells(lines[0], file.delimiter)]
    _check_header(file, header)
    skip = 1
    units = [unit_of(name) for name in header]
    if len(lines) > 1:
        second = [cell.strip() for cell in _cells(lines[1], file.delimiter)]
        if len(second) == len(header) and any(second) and not any(_numeric(cell) for cell in second):
            skip, file.units_line = 2, file.header_line + 1
            units = [cell.strip("[]()") or unit for cell, unit in zip(second, units, strict=True)]
    file.names, file.units = tuple(header), tuple(units)
    file.first_line = file.header_line + skip
    for _ in range(skip):
        start = data.find(b"\n", start) + 1
        if start == 0:
            raise Fault(file.problem("log.no-rows", "the log has a header and no rows", "export it again"))
    file.body = data[start:]


def _delimiter(file: _File, lines: list[str]) -> str:
    """The one separator with which the header has two names or more and every line looked at has as many cells."""
    fits, splits = [], []
    for delimiter in (",", ";", "\t"):
        names = len(_cells(lines[0], delimiter))
        if names > 1:
            splits.append(delimiter)
            if all(len(_cells(line, delimiter)) == names for line in lines[1:]):
                fits.append(delimiter)
    if len(fits) == 1:
        return fits[0]
    if len(fits) > 1:
        names_of = " and ".join(_WORDS[delimiter] for delimiter in fits)
        raise Fault(
            file.problem(
                "log.delimiter",
                f"the lines can be taken apart at {names_of} alike",
                'say which in the record, such as `log: {delimiter: ";", decimal: ","}`',
                file.header_line,
            )
        )
    if len(splits) == 1:
        return splits[0]
    if not splits and not any(sign in line for line in lines[1:] for sign in ",;\t"):
        return ","  # One column: nothing to take apart.
    raise Fault(
        file.problem(
            "log.delimiter",
            "no separator gives every line as many values as the header has names",
            'say it in the record, such as `log: {delimiter: ";", decimal: ","}`; '
            "where lines stand above the names of the columns, say in which line these are: `log: {header: 4}`",
            file.header_line,
        )
    )


def _chosen(file: _File, channels: Mapping[str, str | Sequence[str]] | None) -> dict[str, tuple[str, ...]]:
    """The columns of each channel. A name that the header has twice means nothing: it cannot be asked for."""
    doubled = {name for name in file.names if name and file.names.count(name) > 1}
    chosen, problems = choose(tuple(dict.fromkeys(file.names)), channels, file.shown, file.header_line)
    taken = {name for names in chosen.values() for name in names}
    twice = tuple(
        file.problem("log.header", f"the name '{name}' is given twice", "rename one", file.header_line)
        for name in sorted(doubled & taken)
    )
    if problems or twice:
        raise Fault(*twice, *problems)
    return chosen


def _check_header(file: _File, header: list[str]) -> None:
    if len(header) > MAX_COLUMNS:
        raise Fault(file.problem("log.header", f"more than {MAX_COLUMNS} columns", "export fewer", file.header_line))
    if any(_numeric(name) for name in header):
        raise Fault(
            file.problem(
                "log.header",
                "there are numbers where the names of the columns must be",
                "export it with the names in the first line, or say in which line they are: `log: {header: 4}`",
                file.header_line,
            )
        )
    problems = []
    for index, name in enumerate(header):
        if not name and index < len(header) - 1:
            message = f"column {index + 1} has no name"
            problems.append(file.problem("log.header", message, "give it one", file.header_line))
    if problems:
        raise Fault(*problems)


def _check_rows(file: _File, rows: int) -> None:
    """As many cells in every row as there are names. Rows are counted here, and again when they are read."""
    wanted = len(file.names)
    bad: Iterable[tuple[int, int]]
    if b'"' in file.body:
        if len(file.body) > MAX_QUOTED:
            raise Fault(file.problem("log.quotes", "a large log with quotation marks", "export it without them"))
        lines = file.body.decode("utf-8").split("\n")
        bad = [(i, n) for i, line in enumerate(lines) if (n := len(_cells(line, file.delimiter))) != wanted][:_SHOWN]
    else:
        import polars as pl

        # A separator that occurs nowhere in text makes each line one cell.
        text = pl.read_csv(
            io.BytesIO(file.body), has_header=False, separator="\x1f", quote_char=None, schema={"line": pl.String}
        )["line"].fill_null("")
        if len(text) != rows:
            bad = [(i, 0) for i, line in enumerate(file.body.split(b"\n")) if not line.strip()][:_SHOWN] or [(0, 0)]
        else:
            counts = text.str.count_matches(file.delimiter, literal=True) + 1
            empty = text == ""
            wrong = ((counts != wanted) | empty).arg_true().head(_SHOWN).to_list()
            bad = [(int(i), 0 if empty[int(i)] else int(counts[int(i)])) for i in wrong]
    problems = []
    for index, cells in bad:
        hint = "export it again: a row must have as many values as there are names"
        if cells > wanted and file.delimiter == "," and cells == 2 * wanted:
            hint = "these look like decimal commas: export it with ; between the values"
        what = "the row is empty" if cells == 0 else f"the row has {cells} values, the header {wanted} names"
        problems.append(file.problem("log.row", what, hint, file.first_line + index))
    if problems:
        raise Fault(*problems)


def _texts(file: _File, wanted: list[int]) -> pl.DataFrame:
    """The wanted columns as text without blanks around, named by their number."""
    import polars as pl

    schema = {f"column_{index + 1}": pl.String for index in range(len(file.names))}
    try:
        frame = pl.read_csv(
            io.BytesIO(file.body),
            has_header=False,
            separator=file.delimiter,
            quote_char='"' if b'"' in file.body else None,
            schema=schema,
            columns=[f"column_{index + 1}" for index in wanted],
            truncate_ragged_lines=False,
        )
    except pl.exceptions.PolarsError:
        raise Fault(
            file.problem("log.form", "the log cannot be taken apart", "export it without quotation marks")
        ) from None
    return frame.select(pl.all().fill_null("").str.strip_chars())


def _decimal(file: _File, frame: pl.DataFrame) -> str:
    """The decimal mark that the wanted cells show; `.` when none shows any."""
    import polars as pl

    commas = any(bool(column.str.contains(",", literal=True).any()) for column in frame)
    points = any(bool(column.str.contains(".", literal=True).any()) for column in frame)
    remedy = 'say which in the record: `log: {decimal: ","}` or `log: {decimal: "."}`'
    if commas and points:
        raise Fault(file.problem("log.decimal", "both , and . occur inside numbers", remedy, file.first_line))
    if not commas:
        return "."
    # 1,234 may be a thousand and more, or one and a bit. One cell of another form settles it.
    settled = any(
        bool((column.str.contains(",", literal=True) & ~column.str.contains(r"^[+-]?[1-9][0-9]{0,2},[0-9]{3}$")).any())
        for column in frame.select(pl.all())
    )
    if not settled:
        message = "the comma may be a decimal mark or part thousands: every such number has three digits after it"
        raise Fault(file.problem("log.decimal", message, remedy, file.first_line))
    return ","


def _numbers(file: _File, frame: pl.DataFrame, decimal: str) -> dict[int, Any]:
    import polars as pl

    arrays: dict[int, Any] = {}
    problems: list[Problem] = []
    for text in frame:
        index = int(text.name.removeprefix("column_")) - 1
        plain = text.str.replace_all(",", ".", literal=True) if decimal == "," else text
        if plain.str.contains(_CLOCK).all():
            parts = [plain.str.extract(_CLOCK, group).cast(pl.Float64).fill_null(0.0) for group in (1, 2, 3, 4)]
            arrays[index] = (parts[0] * 86400 + parts[1] * 3600 + parts[2] * 60 + parts[3]).to_numpy()
            file.clocks += (file.names[index],)
            continue
        form = plain.str.contains(_NUMBER)
        if decimal == ",":
            form &= ~text.str.contains(".", literal=True)
        values = plain.cast(pl.Float64, strict=False)
        good = form & values.is_finite().fill_null(False)
        if not good.all():
            for row in (~good).arg_true().head(_SHOWN).to_list():
                problems.append(_bad_cell(file, index, int(row), str(text[int(row)]), decimal))
            continue
        arrays[index] = values.to_numpy()
    if problems:
        raise Fault(*sorted(problems, key=lambda problem: problem.sort_key)[:_SHOWN])
    return arrays


def _bad_cell(file: _File, index: int, row: int, cell: str, decimal: str) -> Problem:
    name = file.names[index]
    remedy = f"mend the export, or cut the log before line {file.first_line + row}"
    other = "." if decimal == "," else ","
    if not cell:
        what = "is empty"
    elif re.fullmatch(r"(?i)[+-]?(nan|inf|infinity)|#.*", cell) or _numeric(cell.replace(",", ".")):
        what = f"is '{cell[:40]}', which is not a finite number"
        if other in cell:
            what = f"is '{cell[:40]}', but the decimal mark is '{decimal}'"
            remedy = f'if it is a decimal mark, say so in the record: `log: {{decimal: "{other}"}}`'
    elif re.match(r"[0-9]{1,4}[-./][0-9]{1,2}[-./][0-9]{1,4}|[0-9]{1,2}:[0-9]{2}", cell):
        what = f"is '{cell[:40]}', a date or time of day"
        remedy = "export the time in seconds from the start"
    else:
        what = f"is '{cell[:40]}', which is not a number"
    line = file.body.split(b"\n", row + 1)[row].decode("utf-8")
    column = 1 + len(file.delimiter.join(line.split(file.delimiter)[:index])) + (1 if index else 0)
    return file.problem("log.cell", f"row {row + 1} of '{name}' {what}", remedy, file.first_line + row, column)


def _cells(line: str, delimiter: str) -> list[str]:
    if '"' not in line:
        return line.split(delimiter)
    return next(csv.reader([line], delimiter=delimiter), [""])


def _numeric(cell: str) -> bool:
    return bool(re.fullmatch(r"[+-]?([0-9]+[.,]?[0-9]*|[.,][0-9]+)([eE][+-]?[0-9]+)?|(?i:nan|[+-]?inf)", cell.strip()))
