"""Jinja templates of pages, in a sandbox: every value comes out as plain text, whoever wrote the template.

A team's folder comes before the shipped one, so that one page can be replaced. A mistake in a template is a `Problem`
with file, line and the names that exist there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from witnessmark.document.text import Rst, escape
from witnessmark.language import say
from witnessmark.problems import Place, Problem

__all__ = ["render_templates"]

_LEVELS = "=-~^+"


def _heading(text: object, level: int = 1) -> Rst:
    """A section title of `level` 1 to 5."""
    words = text if isinstance(text, Rst) else Rst(escape(str(text)))
    mark = _LEVELS[max(1, min(level, len(_LEVELS))) - 1]
    # An underline may be longer than its title, and characters may be two columns wide.
    return Rst(f"{words}\n{mark * (2 * len(words) + 2)}")


def _block(file: object, key: object, ids: object = "") -> Rst:
    """The directive that places one block."""
    lines = f".. block:: {_word(file)}#{_word(key)}"
    if ids:
        lines += "\n   :ids: " + " ".join(_word(part) for part in str(ids).split())
    return Rst(f"\n{lines}\n")


def _to(text: object, target: object) -> Rst:
    """A link in prose: `text` leads to `target` (``page#id``)."""
    return Rst(f":to:`{escape(str(text))} <{escape(str(target))}>`")


def _say(text: object, **values: object) -> str:
    """Our own words in the language of the run; line breaks in them are spaces."""
    return say(" ".join(str(text).split()), **values)


def _word(value: object) -> str:
    return "".join(char for char in str(value) if char.isalnum() or char in "-_./")


def _loader(folders: Sequence[Path]) -> Callable[[str], tuple[str, str, Callable[[], bool]] | None]:
    def load(name: str) -> tuple[str, str, Callable[[], bool]] | None:
        for folder in folders:
            path = folder / name
            # A link in a team's folder leads nowhere: what is read lies in the folder itself.
            if path.is_file() and path.resolve().is_relative_to(folder.resolve()):
                return path.read_text(encoding="utf-8"), str(path), lambda: True
        return None

    return load


def render_templates(
    folders: Sequence[Path], pages: Sequence[Mapping[str, Any]]
) -> tuple[dict[str, str], tuple[Problem, ...]]:
    """Each page's source, by target name.

    `folders`: where templates are looked for, first match wins. `pages`: mappings with `template`, `target` and
    `context`. A page whose template fails is missing from the result and has a problem (`template.*`).
    """
    import jinja2
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        loader=jinja2.FunctionLoader(_loader(folders)),
        undefined=jinja2.StrictUndefined,
        finalize=lambda value: value if isinstance(value, Rst) else escape(str(value)),
        autoescape=False,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["rst"] = Rst
    environment.filters["heading"] = _heading
    environment.globals.update(heading=_heading, block=_block, to=_to, say=_say)
    texts: dict[str, str] = {}
    problems: list[Problem] = []
    for page in pages:
        name, context = str(page["template"]), page["context"]
        try:
            texts[str(page["target"])] = environment.get_template(name).render(context)
        except Exception as fault:  # whatever a template runs into is the template's fault, and is told as such
            problems.append(_problem(fault, name, context, folders))
    return texts, tuple(problems)


def _problem(fault: Exception, name: str, context: Mapping[str, Any], folders: Sequence[Path]) -> Problem:
    import jinja2

    file, line = name, 0
    message = str(fault) or type(fault).__name__
    if isinstance(fault, jinja2.TemplateSyntaxError):
        file, line = fault.name or name, fault.lineno
        return Problem(
            code="template.syntax", message=message, remedy="mend the template at this line", place=Place(file, line, 1)
        )
    if isinstance(fault, jinja2.TemplateNotFound):
        return Problem(
            code="template.missing",
            message=f"there is no template {fault.name or name!r}",
            remedy="put it into the templates folder, or use one of the shipped names",
            place=Place(name),
        )
    trace = fault.__traceback__
    while trace is not None:
        origin = Path(trace.tb_frame.f_code.co_filename)
        for folder in folders:
            if origin.is_relative_to(folder):
                file, line = origin.relative_to(folder).as_posix(), trace.tb_lineno
        trace = trace.tb_next
    if isinstance(fault, jinja2.UndefinedError):
        exist = ", ".join(sorted(str(key) for key in context)) or "none"
        return Problem(
            code="template.undefined",
            message=message,
            remedy=f"use one of the names that exist here: {exist}",
            place=Place(file, line, 1) if line else Place(file),
        )
    return Problem(
        code="template.fails",
        message=f"the template stops: {message}",
        remedy="mend the template at this line",
        place=Place(file, line, 1) if line else Place(file),
    )
