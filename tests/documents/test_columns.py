"""How wide the columns of a printed table are. The laws are our own (common practice, no source)."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

from witnessmark.document.columns import GAP, MAIN, WIDE, lines, shape, widths

FONT = "src/witnessmark/document/fonts/FiraSansCondensed-Regular.ttf"
PROSE = "Finger at the seal between the halves, number and card in the frame"
_TEXT = st.text(alphabet="abc DEF.12\u00a0µ", max_size=60)


def test_a_text_is_as_long_as_its_font_makes_it() -> None:
    """Against the advance widths of the font file, read by another library: no line that print needs is left out."""
    from witnessmark.document.columns import _whole

    font = ImageFont.truetype(FONT, 1000)
    for text in (PROSE, "12 Nov. 2026, J. Marram", "nonconforming", "SEC-07-E-001", "at least 500 Ω/V"):
        true = font.getlength(text) / 1000 * 8.8 * 25.4 / 72
        assert abs(_whole(text) - 0.7 - true) < 0.06 * true, text


def test_a_column_of_few_words_gives_its_room_to_one_of_many() -> None:
    table = [["Fact", "yes", "no"], ["Value", PROSE * 2, PROSE * 2]]
    few, many = widths(table, [1, 1], WIDE)
    assert many > 3 * few
    assert lines(table[1][1], many - GAP) < lines(table[1][1], WIDE / 2 - GAP)


def test_numbers_and_units_are_never_parted_and_long_words_may_be() -> None:
    assert lines("1097\u00a0Ω/V", 6.0) == 1, "a no-break space is no place to break"
    assert lines("9" * 64, 60.0) == 2, "a digest breaks each 20 digits: 40 and 24 stand on two lines"


def test_a_table_goes_across_the_page_only_where_it_gains_by_it() -> None:
    assert shape([["What", "a"], ["Value", "b"]], [1, 1])[0] == MAIN
    long = [["What"] + [PROSE] * 9, ["Value"] + [PROSE * 2] * 9, ["From"] + [PROSE] * 9]
    assert shape(long, [1, 1, 1])[0] == WIDE


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(_TEXT, min_size=4, max_size=4), min_size=1, max_size=5), st.sampled_from([MAIN, WIDE]))
def test_columns_fill_the_table_and_hold_their_words(columns: list[list[str]], whole: float) -> None:
    from witnessmark.document.columns import _least

    found = widths(columns, [1.0] * len(columns), whole)
    need = [_least(cells) for cells in columns]
    assert len(found) == len(columns)
    if sum(need) < whole:
        assert abs(sum(found) - whole) < 0.1 * len(columns)
        assert all(width > least - 0.06 for width, least in zip(found, need, strict=True))
        assert found == widths(columns, [1.0] * len(columns), whole), "the same table, the same widths"
