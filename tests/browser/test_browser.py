"""Each kind of page in a real browser: contrast, names, landmarks, headings, focus, target size, and where one is.

Chromium is the system's. The checker is axe-core (MPL-2.0, WCAG 2.2 AA), which lies beside; what it cannot see is
looked for by `look.js`. Without a browser these tests are skipped.
"""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.demonstration.built import van
from witnessmark.cli.manual_ import commands
from witnessmark.manual import make

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
CHECKER = HERE / "axe-core" / "axe.min.js"
FILE = (
    "index", "contents", "gap-register", "vehicle", "compliance-matrix", "area-un-r100-03-isolation",
    "area-un-r100-03-direct-contact", "area-conversion-practice-loads", "state-not-shown", "state-conforms",
    "record-2m8wfd", "test-reports", "instruments", "people", "emergency-responders", "photographs-and-logs", "places",
    "words", "search",
)  # fmt: skip
MANUAL = ("index", "first-vehicle", "rules", "commands", "files", "method-bonding-four-wire-1", "states", "search")
VIEWS = ((1240, False), (390, True))
"""Width in pixels, and whether it is dark: what differs between the two ways is seen in one of them."""
EVERY = bool(os.environ.get("WITNESSMARK_EVERY_VIEW"))


def seen(names: tuple[str, ...]) -> list[tuple[str, int, bool]]:
    """Each page in one of the views, by turns, and the first two in both; with WITNESSMARK_EVERY_VIEW all in both."""
    both = [(name, *view) for name in (names if EVERY else names[:2]) for view in VIEWS]
    return [*both, *((name, *VIEWS[n % 2]) for n, name in enumerate(() if EVERY else names[2:]))]


pytestmark = [
    pytest.mark.skipif(BROWSER is None, reason="there is no Chromium here"),
    pytest.mark.filterwarnings("ignore:.*MystReferenceResolver.*:sphinx.deprecation.RemovedInSphinx11Warning"),
]


@dataclass(frozen=True)
class Pages:
    """Finished pages, and a folder for the browser."""

    html: Path
    work: Path


@pytest.fixture(scope="module")
def technical(tmp_path_factory: pytest.TempPathFactory) -> Pages:
    out = tmp_path_factory.mktemp("file")
    shutil.copytree(van(tmp_path_factory) / "html", out / "html")
    return Pages(out / "html", tmp_path_factory.mktemp("browser"))


@pytest.fixture(scope="module")
def manual(tmp_path_factory: pytest.TempPathFactory) -> Pages:
    made = make(tmp_path_factory.mktemp("manual"), commands())
    return Pages(made.index.parent, tmp_path_factory.mktemp("browser"))


def look(pages: Pages, name: str, width: int, dark: bool) -> dict[str, Any]:
    """What the browser finds on one page. A narrow page stands in a frame: a browser's window has a least width."""
    page = pages.html / f"{name}.html"
    scripts = [CHECKER, HERE / "look.js"]
    tags = "".join(f'<script src="{script.resolve().as_uri()}"></script>' for script in scripts)
    opened = page.with_name(f"looked-at-{name}.html")
    opened.write_text(page.read_text(encoding="utf-8").replace("</body>", f"{tags}</body>"), encoding="utf-8")
    shown = opened
    if width < 500:
        shown = page.with_name(f"frame-{name}.html")
        shown.write_text(FRAME.format(page=opened.name, width=width), encoding="utf-8")
    command = [str(BROWSER), "--headless", "--disable-gpu", "--hide-scrollbars", "--disable-extensions"]
    # A browser that runs as root has no sandbox; it sees only pages of our own making here.
    command += ["--no-sandbox"] if os.geteuid() == 0 else []
    command += ["--blink-settings=preferredColorScheme=0"] if dark else []
    command += [f"--user-data-dir={pages.work}", f"--window-size={max(width, 500)},900"]
    command += ["--allow-file-access-from-files", "--virtual-time-budget=60000", "--dump-dom", shown.as_uri()]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    finally:
        for made in {opened, shown}:
            made.unlink()
    answer = re.search(r'<pre id="found">(.*?)</pre>', done.stdout, re.DOTALL)
    assert answer, f"{name}: the browser gave no answer\n{done.stderr[-2000:]}"
    told: dict[str, Any] = json.loads(html.unescape(answer[1]))
    return told


FRAME = """<!DOCTYPE html><meta charset="utf-8"><body style="margin:0">
<iframe src="{page}" style="border:0;width:{width}px;height:850px"></iframe>
<script>
const ask = setInterval(() => {{
  const found = document.querySelector("iframe").contentDocument.getElementById("found");
  if (found) {{ clearInterval(ask); document.body.append(document.importNode(found, true)); }}
}}, 100);
</script>
"""


@pytest.mark.parametrize(("name", "width", "dark"), seen(FILE))
def test_pages_of_the_technical_file(technical: Pages, name: str, width: int, dark: bool) -> None:
    told = look(technical, name, width, dark)
    assert told["found"] == []
    assert told["stops"] > 20


@pytest.mark.parametrize(("name", "width", "dark"), seen(MANUAL))
def test_pages_of_the_manual(manual: Pages, name: str, width: int, dark: bool) -> None:
    told = look(manual, name, width, dark)
    assert told["found"] == []


def test_long_requirements_were_looked_at(technical: Pages) -> None:
    """That the title stays in view was asked of more than nothing."""
    assert look(technical, "area-un-r100-03-isolation", 1240, False)["titles"] > 0


def test_the_checker_ran(technical: Pages) -> None:
    assert re.match(r"\d+\.\d+\.\d+, [3-9]\d rules passed", look(technical, "index", 1240, False)["checker"])


SMALL = '<button style="all:unset;display:inline-block;width:5px;height:5px">.</button>'
SPOILED = {
    "reflow": ("</h1>", '</h1><div style="width:3000px">wide</div>'),
    "heading order": ("</h1>", "</h1><h4>Too deep</h4>"),
    "one h1": ("</h1>", "</h1><h1>A second one</h1>"),
    "landmark": ('<footer class="foot">', '<div class="foot">'),
    "landmark name": ("<main", "<nav></nav><main"),
    "skip link": ('class="skip"', 'class="later"'),
    "tab order": ("</h1>", '</h1><button tabindex="3">first of all</button>'),
    "focus ring": ("</h1>", '</h1><button style="outline:none!important">where?</button>'),
    "where am I": ("</head>", "<style>.sticky, section > .line {position: static !important}</style></head>"),
    "color-contrast": ("</h1>", '</h1><p style="color:#999;background:#fff">pale</p>'),
    "link-name": ("</h1>", '</h1><a href="#main"></a>'),
    "image-alt": ("</h1>", '</h1><img src="x.png">'),
    "target-size": (
        "</h1>",
        '</h1><a style="font-size:4px;line-height:4px" href="#a">a</a><a style="font-size:4px" href="#b">b</a>',
    ),
}


@pytest.mark.parametrize("rule", SPOILED)
def test_each_fault_would_be_found(technical: Pages, rule: str) -> None:
    name = "area-un-r100-03-isolation" if rule == "where am I" else "people"  # a short page is looked at sooner
    old, new = SPOILED[rule]
    text = (technical.html / f"{name}.html").read_text(encoding="utf-8")
    assert old in text
    spoiled = technical.html / "spoiled.html"
    spoiled.write_text(text.replace(old, new, 1), encoding="utf-8")
    try:
        assert rule in {one["rule"] for one in look(technical, "spoiled", 1240, False)["found"]}
    finally:
        spoiled.unlink()
