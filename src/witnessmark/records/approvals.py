"""Numbers of approvals under a UN Regulation: authority, regulation, series, supplement, base number, extension.

The long form stands on certificates and communication forms: `E4*100R03/01*2492*00`. In the mark stand the two digits
of the series and the base number beside `100R`: `03 2492`. Source of the mark: example in the Regulation (seen); of the
long form: Schedule 4 of Revision 3 of the 1958 Agreement (from memory).

The supplement in a number may lag behind the supplement that is met: asking for a newer one is no extension (seen in
working papers). So the two are never derived from one another.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["EXAMPLE", "Approval", "ApprovalError", "parse_approval"]

EXAMPLE = "E4*100R03/01*2492*00"
_LONG = re.compile(
    r"(?P<authority>E[1-9][0-9]?)\*(?P<regulation>[1-9][0-9]{0,2})R(?P<series>[0-9]{2})/(?P<supplement>[0-9]{2})"
    r"\*(?P<base>[0-9]{1,6})\*(?P<extension>[0-9]{2})"
)


class ApprovalError(ValueError):
    """A text that is no approval number: what is wrong with it, and what to write."""

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message)
        self.message, self.remedy = message, remedy


@dataclass(frozen=True, slots=True)
class Approval:
    """One number. Digits are kept as they are written: `0023` is not `23`."""

    authority: str
    """`E` and the number of the country that granted it."""
    regulation: int
    series: str
    supplement: str
    base: str
    extension: str

    def __str__(self) -> str:
        """The long form."""
        return f"{self.authority}*{self.regulation}R{self.series}/{self.supplement}*{self.base}*{self.extension}"

    @property
    def mark(self) -> str:
        """What stands in the mark, beside the regulation: the series and the base number."""
        return f"{self.series} {self.base}"

    @property
    def beside(self) -> str:
        """How the mark names the regulation: `100R`."""
        return f"{self.regulation}R"


def parse_approval(text: str) -> Approval:
    """The number in its long form. Raises ApprovalError with what to write instead."""
    found = _LONG.fullmatch(text)
    if found is not None:
        if found["base"].strip("0") == "":
            raise ApprovalError(f"'{text}' has the base number 0", "copy the number from the certificate")
        return Approval(
            found["authority"],
            int(found["regulation"]),
            found["series"],
            found["supplement"],
            found["base"],
            found["extension"],
        )
    raise ApprovalError(*_wrong(text))


def _wrong(text: str) -> tuple[str, str]:
    """The likeliest mistake first."""
    long_form = f"write authority*regulation R series/supplement*base number*extension, such as {EXAMPLE}"
    plain = text.strip()
    if re.fullmatch(r"[0-9]{2}\s?[0-9]{1,6}", plain):
        return f"'{text}' is what stands in the mark, not the whole number", f"{long_form}; it is on the certificate"
    if plain.startswith("e"):
        return (
            f"'{text}' begins with a small e, which is an approval to an act of the European Union",
            "an approval to a UN Regulation begins with a capital E; copy it from the certificate",
        )
    closed = re.sub(r"\s+", "", plain)
    if closed != text and _LONG.fullmatch(closed):
        return f"'{text}' has blanks in it", f"write {closed}"
    if re.fullmatch(r"E[0-9]+\*[0-9]+R[0-9]{2}\*[0-9]+\*[0-9]{2}", plain):
        return f"'{text}' has no supplement behind the series", "write series/supplement, such as 03/01; none yet is 00"
    if re.fullmatch(r"E[0-9]+\*[0-9]+R[0-9]{2}/[0-9]{2}\*[0-9]+", plain):
        return f"'{text}' has no extension", "write *00 behind it when it was never extended"
    if re.fullmatch(r"E[0-9]+\*[0-9]+R[0-9]+/[0-9]+\*[0-9]+\*[0-9]+", plain):
        return f"'{text}' is not an approval number", "series, supplement and extension have two digits each, as in 03"
    if not plain.startswith("E"):
        return f"'{text}' does not begin with the authority", f"{long_form}: E4 is the authority"
    return f"'{text}' is not an approval number", long_form
