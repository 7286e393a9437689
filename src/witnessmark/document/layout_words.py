"""Words of print and screen themselves: heads of tables, what stands before a number, what a page is called.

The theme and the print templates take them by name; both say them in the language of the run.
"""

from __future__ import annotations

from witnessmark.language import Words, declared, say_n

__all__ = [
    "HITS",
    "LAYOUT",
    "REQUIREMENT",
    "STATE_WORDS",
    "concessions_words",
    "fields_words",
    "gaps_words",
]

LAYOUT = Words(
    {
        # What a team's own template may hold: the kinds of admonition of reStructuredText.
        "attention": declared("Attention"),
        "caution": declared("Caution"),
        "danger": declared("Danger"),
        "error": declared("Error"),
        "hint": declared("Hint"),
        "important": declared("Important"),
        "note": declared("Note"),
        "tip": declared("Tip"),
        "warning": declared("Warning"),
        "all_by_state": declared("All requirements, by state"),
        "asked": declared("Asked"),
        "by_state": declared("By state"),
        "chapter_by_state": declared("Requirements of this chapter by state"),
        "chapters": declared("Chapters"),
        "chapters_note": declared("Chapters, with what stands in the way"),
        "clause": declared("Clause"),
        "combined": declared("combined: root of the sum of squares"),
        "demonstration": declared("Demonstration"),
        "do_this": declared("Do this"),
        "figure": declared("Figure"),
        "formula": declared("Formula"),
        "finding": declared("Finding"),
        "how_shown": declared("How it is shown"),
        "meter": declared("\u00b1 meter"),
        "none": declared("none"),
        "not_asked": declared("not asked"),
        "of": declared("of"),
        "original": declared("original"),
        "original_head": declared("Original"),
        "own_words": declared("Requirement, in own words"),
        "page": declared("page"),
        "page_head": declared("Page"),
        "part": declared("Part"),
        "part_of_variance": declared("part of the variance"),
        "photograph": declared("Photograph"),
        "previous_next": declared("Previous and next"),
        "quantity": declared("Quantity"),
        "reading": declared("Reading"),
        "record": declared("Record"),
        "records": declared("Records"),
        "report": declared("Report"),
        "result": declared("Result with U (about 95 %)"),
        "search": declared("Search this file"),
        "seen_by": declared("What was seen, by whom and when"),
        "sensitivity": declared("sensitivity"),
        "shape": declared("shape"),
        "share": declared("share"),
        "sign": declared("Sign"),
        "state": declared("State"),
        "symbol": declared("Symbol"),
        "table": declared("Table"),
        "taken": declared("Taken"),
        "to_the_text": declared("To the text"),
        "under_concession": declared("under concession"),
        "unit": declared("unit"),
        "unjudged": declared("Nobody has judged this picture."),
        "used_in": declared("Used in"),
        "verdict": declared("Verdict"),
        "vin": declared("VIN"),
        "where": declared("Where you are"),
        "what_to_do": declared("What to do"),
        "what_wrong": declared("Requirement, and what is wrong"),
    }
)

STATE_WORDS = Words(
    {
        "conforms": declared("conforms"),
        "nonconforming": declared("nonconforming"),
        "undecided": declared("undecided"),
        "not-shown": declared("not shown"),
        "lapsed": declared("lapsed"),
        "under-concession": declared("under concession"),
        "not-applicable": declared("not applicable"),
    }
)
"""The one word of each state, by its token."""

REQUIREMENT = declared("requirement {number}")
HITS = declared("Hits")
"""How the gap register names a requirement, alone and before a list of numbers; the count looks for both in print."""


def gaps_words(n: int) -> str:
    """What a link says that leads to so many gaps; the count after the build looks for these very words."""
    return say_n("{n} gap", "{n} gaps", n)


def fields_words(n: int) -> str:
    """The same of empty fields of the authority's forms."""
    return say_n("{n} empty field", "{n} empty fields", n)


def concessions_words(n: int) -> str:
    """The same of concessions."""
    return say_n("{n} concession", "{n} concessions", n)
