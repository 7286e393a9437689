"""Approval numbers: the long form of certificates, and what stands in the mark.

Sources. The mark, `03 2492` beside `100R`, and one with the series 00 (`00 1628` for Regulation 42): examples read in
the Regulation's text (seen). The long form with a supplement and an extension of 00 on first issue: Schedule 4 of
Revision 3 of the 1958 Agreement (from memory; nobody has compared it).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.records.approvals import Approval, ApprovalError, parse_approval


@pytest.mark.parametrize(
    ("text", "approval", "mark", "beside"),
    [
        ("E4*100R03/01*2492*00", Approval("E4", 100, "03", "01", "2492", "00"), "03 2492", "100R"),
        ("E11*42R00/00*1628*02", Approval("E11", 42, "00", "00", "1628", "02"), "00 1628", "42R"),
        ("E1*100R02/05*0023*11", Approval("E1", 100, "02", "05", "0023", "11"), "02 0023", "100R"),
    ],
)
def test_a_number_is_taken_apart_and_put_together(text: str, approval: Approval, mark: str, beside: str) -> None:
    found = parse_approval(text)
    assert found == approval
    assert (str(found), found.mark, found.beside) == (text, mark, beside)


@pytest.mark.parametrize(
    ("text", "message", "remedy"),
    [
        ("03 2492", "is what stands in the mark", "it is on the certificate"),
        ("032492", "is what stands in the mark", "it is on the certificate"),
        ("e4*100R03/01*2492*00", "begins with a small e", "capital E"),
        ("e1*2018/858*00123*00", "begins with a small e", "capital E"),
        ("E4 * 100R03/01 * 2492 * 00", "has blanks in it", "write E4*100R03/01*2492*00"),
        (" E4*100R03/01*2492*00", "has blanks in it", "write E4*100R03/01*2492*00"),
        ("E4*100R03*2492*00", "has no supplement", "such as 03/01"),
        ("E4*100R03/01*2492", "has no extension", "write *00"),
        ("E4*100R3/1*2492*0", "is not an approval number", "two digits each"),
        ("E4*100R03/01*2492*0", "is not an approval number", "two digits each"),
        ("E4*100R03/01*0000*00", "has the base number 0", "copy the number"),
        ("100R03/01*2492*00", "does not begin with the authority", "such as E4*100R03/01*2492*00"),
        ("E0*100R03/01*2492*00", "is not an approval number", "two digits each"),
        ("E4*100R03/01*24x2*00", "is not an approval number", "such as E4*100R03/01*2492*00"),
        ("none", "does not begin with the authority", "such as E4*100R03/01*2492*00"),
        ("", "does not begin with the authority", "such as E4*100R03/01*2492*00"),
    ],
)
def test_what_is_no_number_says_what_to_write(text: str, message: str, remedy: str) -> None:
    with pytest.raises(ApprovalError) as caught:
        parse_approval(text)
    assert message in caught.value.message
    assert remedy in caught.value.remedy


@given(
    st.integers(1, 99), st.integers(1, 200), st.integers(0, 99), st.integers(0, 99), st.integers(1, 999999),
    st.integers(0, 99), st.integers(0, 2),
)  # fmt: skip
def test_every_number_reads_back(country: int, rule: int, a: int, b: int, base: int, ext: int, zeros: int) -> None:
    digits = ("0" * zeros + str(base))[-6:]
    approval = Approval(f"E{country}", rule, f"{a:02}", f"{b:02}", digits, f"{ext:02}")
    if digits.strip("0"):
        assert parse_approval(str(approval)) == approval
