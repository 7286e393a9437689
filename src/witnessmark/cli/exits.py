"""Exit statuses."""

from enum import IntEnum

__all__ = ["Exit"]


class Exit(IntEnum):
    """What a command's exit status says."""

    DONE = 0
    """Written; clean; all shown."""
    GAPS = 1
    """`audit`: something is not shown yet."""
    DIFFERS = 1
    """`verify`: not whole, of another origin, or it does not recompute the same."""
    BAD_INPUT = 2
    """Problems in files, or the command was used wrongly."""
    OUR_FAULT = 3
    """A bug of ours; a report was printed."""
