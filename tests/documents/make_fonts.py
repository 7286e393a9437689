"""Make what the pages need of the fonts: the cut woff2 files for the screen and the list of characters print can show.

Run by hand after a change of fonts or of the typst wheel: `python tests/documents/make_fonts.py`. Needs fontTools with
brotli. Print falls back to the fonts inside the typst wheel, so typst itself is asked, by halving, what it can show.
"""

from __future__ import annotations

import sys
import tempfile
import unicodedata
from pathlib import Path

FONTS = Path(__file__).parents[2] / "src" / "witnessmark" / "document" / "fonts"
SCREEN = {
    "FiraSans-Regular": "sans-400",
    "FiraSans-SemiBold": "sans-600",
    "FiraSansCondensed-Regular": "condensed-400",
    "FiraSansCondensed-SemiBold": "condensed-600",
}
# Latin, Greek, punctuation, super- and subscripts, currency, letter-like signs, arrows, mathematical signs.
CUT = "U+0020-017F,U+0218-021B,U+02BC,U+02C6-02DD,U+0370-03FF,U+1E00-1EFF,U+2000-20BF,U+2100-22FF,U+25A0-25FF"


def cut() -> None:
    from fontTools import subset

    for source, target in SCREEN.items():
        subset.main(
            [
                str(FONTS / f"{source}.ttf"),
                f"--unicodes={CUT}",
                "--flavor=woff2",
                "--layout-features=kern,liga,tnum,lnum,mark,mkmk,ccmp,locl,sups,subs",
                "--no-hinting",
                f"--output-file={FONTS / target}.woff2",
            ]
        )


def shown(points: list[int], compiler: object, work: Path) -> list[int]:
    """Which of the code points print can show."""
    import typst

    (work / "points.txt").write_text(" ".join("a" + chr(point) for point in points), encoding="utf-8")
    try:
        compiler.compile(format="pdf", pdf_standards=["a-3a", "ua-1"], timestamp=0)  # type: ignore[attr-defined]  # the wheel ships no types
    except typst.TypstError:
        if len(points) == 1:
            return []
        half = len(points) // 2
        return shown(points[:half], compiler, work) + shown(points[half:], compiler, work)
    return points


def coverage() -> None:
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(FONTS)])
    # Scripts that no font of ours has are left out to save time: CJK, Hangul, Yi and all above the first plane.
    points = [
        point
        for point in (*range(0x20, 0xFB10), 0xFFFD)
        if unicodedata.category(chr(point))[0] != "C" and not 0x2E80 <= point < 0xD800 and not 0x1100 <= point < 0x1E00
    ]
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        faces = 'font: ("Fira Sans", "Libertinus Serif")'
        (work / "main.typ").write_text(
            f'#set document(title: "x")\n#set text({faces})\n= T\n#read("points.txt")\n'
            f'#text(weight: 600, stretch: 75%, read("points.txt"))\n',
            encoding="utf-8",
        )
        compiler = typst.Compiler(str(work / "main.typ"), root=str(work), font_paths=fonts)
        good = []
        for start in range(0, len(points), 64):
            good += shown(points[start : start + 64], compiler, work)
    ranges: list[list[int]] = []
    for point in [0x200B, *good]:
        if ranges and ranges[-1][1] == point - 1:
            ranges[-1][1] = point
        else:
            ranges.append([point, point])
    text = "# Code points that print can show, made by tests/documents/make_fonts.py.\n"
    text += "".join(f"{a:04X}-{b:04X}\n" if a != b else f"{a:04X}\n" for a, b in sorted(ranges))
    (FONTS / "coverage.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    cut()
    coverage()
    sys.exit(0)
