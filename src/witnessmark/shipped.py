"""Where the files that come with the tool are: requirement sets, templates, evidence, the manual."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

__all__ = ["Kind", "shipped"]

Kind = Literal["requirements", "templates", "evidence", "docs"]


def shipped(kind: Kind) -> Path:
    """The folder of one kind: inside the installed package, or at the top of a source checkout.

    Raises FileNotFoundError when neither is there: the installation is broken.
    """
    package = Path(__file__).resolve().parent
    installed = package / "_shipped" / kind
    if installed.is_dir():
        return installed
    checkout = package.parents[1]
    if package.parent.name == "src" and (checkout / "pyproject.toml").is_file() and (checkout / kind).is_dir():
        return checkout / kind
    raise FileNotFoundError(f"the folder '{kind}' that comes with witnessmark is missing: install it again")
