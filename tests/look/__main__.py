"""`python -m tests.look [FOLDER]`: screenshots of every page and every sheet of the demonstration, with an index.

Needs Chromium and pdftoppm (Poppler) from the system. Without one of them it says which pictures it left out, and
makes the others. Pages at 390, 1024 and 1920 pixels, dark and in print; every page of the PDF and of the sheets.
"""

from __future__ import annotations

import argparse
import html
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from witnessmark.cli.main import main as witnessmark

ROOT = Path(__file__).parents[2]
WIDTHS = (390, 1024, 1920)
HEIGHT = 2400
KINDS = (
    "index", "gap-register", "vehicle", "compliance-matrix", "decision-rule", "instruments", "people", "search",
    "state-not-shown", "record-2m8wfd",
)  # fmt: skip
"""Pages of which one is enough; of the chapters every one is looked at."""
DARK = "--blink-settings=preferredColorScheme=0"


def look(out: Path, vehicle: str = "van-07", *, everything: bool = True) -> list[str]:
    """Make the pictures below `out`; gives what was left out, and why."""
    built, sheets = out / "built", out / "sheets.pdf"
    for command in (("build", vehicle, "--output", str(built)), ("sheet", vehicle, "--every", "--output", str(sheets))):
        if witnessmark([*command, "--folder", str(ROOT)]):
            raise SystemExit(f"{command[0]} failed: nothing to look at")
    left_out: list[str] = []
    groups: dict[str, list[Path]] = {}
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser:
        names = sorted(p.stem for p in (built / "html").glob("*.html"))
        names = names if everything else [n for n in names if n in KINDS or "bonding" in n]
        for name in names:
            groups[name] = _shots(browser, built / "html" / f"{name}.html", out / "screen" / name)
    else:
        left_out.append("screenshots: there is no Chromium here")
    if pdftoppm := shutil.which("pdftoppm"):
        for title, pdf in (("technical file", built / "technical-file.pdf"), ("sheets", sheets)):
            folder = out / "paper" / title.replace(" ", "-")
            folder.mkdir(parents=True, exist_ok=True)
            for grey in (False, True) if title == "sheets" else (False,):
                prefix = folder / ("grey" if grey else "page")
                subprocess.run(
                    [pdftoppm, "-r", "60", *(["-gray"] if grey else []), "-png", str(pdf), str(prefix)], check=True
                )
            groups[title] = sorted(folder.glob("*.png")) + sorted(folder.glob("*.pgm"))
    else:
        left_out.append("pages of the PDF: there is no pdftoppm here")
    _index(out, groups)
    return left_out


def _shots(browser: str, page: Path, folder: Path) -> list[Path]:
    """One page at each width, dark and as it is printed. Narrow windows are a frame: a browser has a least width."""
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as work:
        for width, dark in [*((w, False) for w in WIDTHS), (1024, True), (390, True)]:
            source = page
            if width < 500:
                source = Path(work) / "frame.html"
                frame = f'<iframe src="{page.as_uri()}" style="border:0;width:{width}px;height:{HEIGHT}px"></iframe>'
                source.write_text(f'<body style="margin:0">{frame}', encoding="utf-8")
            to = folder / f"{width:04d}{'-dark' if dark else ''}.png"
            _run(browser, source, max(width, 500), [f"--screenshot={to}", *([DARK] if dark else [])], work)
            made.append(to)
        printed = folder / "print.pdf"
        _run(browser, page, 1024, [f"--print-to-pdf={printed}", "--no-pdf-header-footer"], work)
        made.append(printed)
    return [path for path in made if path.is_file()]


def _run(browser: str, page: Path, width: int, what: list[str], work: str) -> None:
    command = [browser, "--headless", "--disable-gpu", "--hide-scrollbars", "--disable-extensions"]
    # A browser that runs as root has no sandbox; it sees only pages of our own making here.
    command += ["--no-sandbox"] if os.geteuid() == 0 else []
    command += [f"--user-data-dir={work}/profile", f"--window-size={width},{HEIGHT}", *what, page.as_uri()]
    subprocess.run(command, check=False, capture_output=True, timeout=90)


def _index(out: Path, groups: dict[str, list[Path]]) -> None:
    parts = ["<!DOCTYPE html><meta charset=utf-8><title>Look</title><body style='font:15px sans-serif'>"]
    for title, files in groups.items():
        parts.append(f"<h2>{html.escape(title)}</h2>")
        for file in files:
            to = html.escape(file.relative_to(out).as_posix())
            shown = f'<img src="{to}" alt="{to}" loading="lazy" style="width:300px;border:1px solid #888">'
            parts.append(f'<a href="{to}">{shown if file.suffix != ".pdf" else "as printed by the browser"}</a> ')
    (out / "index.html").write_text("\n".join(parts), encoding="utf-8")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.look", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder", nargs="?", type=Path, default=ROOT / "builds" / "look", help="where to")
    parser.add_argument("--some", action="store_true", help="one page of each kind only")
    options = parser.parse_args()
    out = options.folder.resolve()
    if out.exists():
        shutil.rmtree(out)
    out.mkdir(parents=True)
    for missing in look(out, everything=not options.some):
        sys.stderr.write(f"left out: {missing}\n")
    sys.stdout.write(f"{out / 'index.html'}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
