"""Plots: where things stand is read back from the SVG and compared with the numbers at its ticks, by a straight line
through them (closed form). What an SVG may hold, and that it is the same everywhere, is our own promise: no source."""

from __future__ import annotations

import ast
import dataclasses
import math
import os
import re
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest

from tests.documents import sample
from tests.documents.picture import Picture, picture
from witnessmark.document import figures
from witnessmark.document.blocks import Band, Curve, Curves, Decay, Extreme, IntervalChart, IntervalRow, Limit, Mark
from witnessmark.document.drawings import IssueBar, Issues
from witnessmark.document.marks import LIGHT
from witnessmark.language import Language, speaking

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "witnessmark"
CHART = IntervalChart(
    (
        IntervalRow("Traction bus", 1097, 10, "1097", "10", "pass", True, 510),
        IntervalRow("Charge inlet", 507, 11, "507", "11", "conditional pass", False, 511),
        IntervalRow("Heater bus", 431.5, 9, "431.5", "9.0", "fail", False, 509),
        IntervalRow("Converter", 3, 1, "3", "1", "fail", False, 501),
    ),
    500,
    "at least 500, or 500 + U to pass",
    "isolation resistance, Ω/V",
    limit_words_short="at least 500",
)
DECAY = Decay((0.0, 0.25, 1.0), (400.0, 90.0, 5.0), 60, "60 V", 1.0, "not after 1.00 s", 0.4, 0.05, "0.40 s", True)
BAND = Band(
    tuple(range(801)),
    tuple(3.5 - 0.4 * (n == 321) for n in range(800)),
    tuple(3.6 + 0.3 * (n == 500) for n in range(800)),
    "time, s",
    "V",
    (Limit(4.2, "at most 4.2 V", True), Limit(3.0, "at least 3.0 V", False)),
    Extreme(321.5, 3.1, "lowest 3.1 V, 321 s", True),
)
CURVES = Curves(
    (Curve("fuse melts", (600.0, 1000.0, 4000.0), (100.0, 2.0, 0.003)),),
    "current, A",
    "time, s",
    (Mark(800, "contactors break up to 800 A"),),
    (Mark(0.02, "in time"),),
    800,
    2000,
    "neither breaks",
)
ISSUES = Issues((IssueBar("A, 2 Mar. 2026", 12, "12 gaps"), IssueBar("B, draft", 6, "6 gaps", True)))
ALL = (CHART, DECAY, BAND, CURVES, ISSUES)
BOTH = pytest.mark.parametrize("narrow", [False, True])


def _scale(drawn: Picture, axis: str, *, log: bool = False) -> np.poly1d:
    """From a position to a value, fitted through the ticks; they must lie on it to the last decimal."""
    places, values = zip(*((at, float(text.replace("\u2212", "-"))) for at, text in drawn.ticks(axis)), strict=True)
    values = tuple(map(math.log10, values)) if log else values
    scale = np.poly1d(np.polyfit(places, values, 1))
    per_point = abs(scale[1])
    assert [scale(at) for at in places] == pytest.approx(values, abs=0.011 * per_point)
    return scale


def _width(words: str, weight: str = "Regular") -> float:
    """In points at 8.2, by the advances of the face as fontTools reads them; without kerning."""
    from fontTools.ttLib import TTFont

    font = TTFont(SOURCE / "document" / "fonts" / f"FiraSansCondensed-{weight}.ttf")
    names, advance = font.getBestCmap(), font["hmtx"]
    return float(sum(advance[names[ord(c)]][0] for c in words) * 8.2 / font["head"].unitsPerEm)


# ---------------------------------------------------------------- what stands where


@BOTH
def test_a_result_its_interval_and_its_limit_stand_at_their_numbers(narrow: bool) -> None:
    drawn = picture(CHART, narrow=narrow)
    scale = _scale(drawn, "x")
    near = 0.02 * abs(scale[1])
    hollow = [dot for dot in drawn.dots() if dot.fill == "paper" and dot.box[2] - dot.box[0] > 5]
    assert [scale(dot.middle[0]) for dot in hollow] == pytest.approx([507, 431.5], abs=near)
    bars = [path.box for path in drawn.with_width("ink", 1.3) if path.box[1] == path.box[3]]
    assert [scale(x) for box in bars for x in (box[0], box[2])] == pytest.approx([496, 518, 422.5, 440.5], abs=near)
    limits = [scale(path.middle[0]) for path in drawn.with_width("ink", 1.6)]
    assert limits == pytest.approx([500] * (len(CHART.rows) if narrow else 1), abs=near)
    begins = [scale(path.middle[0]) for path in drawn.with_width("ink", 0.8)]
    assert begins == pytest.approx([510, 511, 509, 501], abs=near)
    for row, dot in zip(CHART.rows, drawn.dots(), strict=True):  # in the row of its words
        at = [words.y for words in drawn.words if words.words == row.statement and row.statement != "fail"]
        assert not at or abs(dot.middle[1] - at[0]) < (14 if narrow else 4)


@BOTH
def test_what_is_far_off_the_scale_is_an_arrow_at_the_edge(narrow: bool) -> None:
    drawn = picture(CHART, narrow=narrow)
    ends = [at for at, _ in drawn.ticks("x")]
    tips = [path for path in drawn.paths if not path.width and path.fill in ("paint", "ink")]
    assert [tip.fill for tip in tips] == ["paint", "ink"]  # the pass beyond, the fail below
    assert tips[0].box[2] == pytest.approx(ends[-1], abs=0.02)
    assert tips[1].box[0] == pytest.approx(ends[0], abs=0.02)
    dots = [dot.middle[0] for dot in drawn.dots()]
    assert all(ends[0] <= x <= ends[-1] for x in dots)
    assert "1097" in "".join(words.words for words in drawn.words), "the number stands beside it"


@BOTH
def test_an_arrow_stays_on_its_own_side_of_the_limit(narrow: bool) -> None:
    """A fail far below a limit that lies near the edge: nothing of it may stand where a pass stands."""
    rows = (IntervalRow("Heater bus", 86, 1, "86", "1", "fail", False), CHART.rows[0])
    for chart in (dataclasses.replace(CHART, rows=rows), dataclasses.replace(CHART, rows=rows[:1])):
        drawn = picture(chart, narrow=narrow)
        limit = drawn.with_width("ink", 1.6)[0].middle[0]
        (dot,) = (dot for dot in drawn.dots() if dot.fill == "paper")
        assert dot.box[2] <= limit - 1
        (stem,) = drawn.with_width("ink", 1.4)
        assert stem.box[2] < limit


def test_an_interval_that_leaves_the_scale_has_no_end_tick_there() -> None:
    row = IntervalRow("wide", 640.0, 400.0, "640", "400", "conditional pass", False)
    drawn = picture(dataclasses.replace(CHART, rows=(*CHART.rows[1:3], row)))
    ends = [at for at, _ in drawn.ticks("x")]
    at_edge = [path for path in drawn.paths if not path.width and path.fill == "ink"]
    if _scale(drawn, "x")(ends[-1]) < 1040:
        assert any(path.box[2] == pytest.approx(ends[-1], abs=0.02) for path in at_edge)
    caps = [path.box[0] for path in drawn.with_width("ink", 1.3) if path.box[0] == path.box[2]]
    assert not [x for x in caps if x == pytest.approx(ends[-1], abs=0.02)]


@BOTH
def test_the_forbidden_side_is_hatched_at_45_degrees_up_to_the_limit(narrow: bool) -> None:
    most = dataclasses.replace(CHART, side="at-most")
    for chart, (low, high) in ((CHART, (None, 500.0)), (most, (500.0, None))):
        drawn = picture(chart, narrow=narrow)
        scale, ends = _scale(drawn, "x"), [at for at, _ in drawn.ticks("x")]
        hatched = drawn.with_width("rule", 0.5)
        assert len(hatched) == (len(CHART.rows) if narrow else 1)
        for path in hatched:
            left, top, right, bottom = path.box
            assert scale(left) == pytest.approx(scale(ends[0]) if low is None else low, abs=0.1)
            assert scale(right) == pytest.approx(scale(ends[-1]) if high is None else high, abs=0.1)
            for (x1, y1), (x2, y2) in path.strokes:
                assert abs((x2 - x1) + (y2 - y1)) < 0.021, "45 degrees"
                assert min(abs(x1 - left), abs(y1 - bottom), abs(x1 - right), abs(y1 - top)) < 0.011


@BOTH
def test_a_decay_runs_through_its_points_and_the_crossing_lies_on_the_limit(narrow: bool) -> None:
    drawn = picture(DECAY, narrow=narrow)
    x, y = _scale(drawn, "x"), _scale(drawn, "y")
    ((course,),) = (path.strokes for path in drawn.with_width("paint", 1.8))
    assert [x(px) for px, _ in course] == pytest.approx(DECAY.time, abs=0.011 * x[1])
    assert [y(py) for _, py in course] == pytest.approx(DECAY.voltage, abs=0.011 * abs(y[1]))
    (box,) = (path.box for path in drawn.paths if path.fill == "paint" and not path.width)
    assert (x(box[0]), x(box[2])) == pytest.approx((0.35, 0.45), abs=0.011 * x[1])
    assert y((box[1] + box[3]) / 2) == pytest.approx(60, abs=0.011 * abs(y[1]))
    lines = {path.middle: path for path in drawn.with_width("ink", 1.6)}
    assert any(y(at[1]) == pytest.approx(60, abs=0.5) for at in lines)
    assert any(x(at[0]) == pytest.approx(1.0, abs=0.01) for at in lines)


@BOTH
def test_a_spike_of_one_bin_stays_in_the_band(narrow: bool) -> None:
    drawn = picture(BAND, narrow=narrow)
    x, y = _scale(drawn, "x"), _scale(drawn, "y")
    (area,) = (path for path in drawn.paths if path.fill == "paint" and not path.width)
    near = 0.02 * abs(y[1])
    assert (y(area.box[3]), y(area.box[1])) == pytest.approx((3.1, 3.9), abs=near)
    deepest = [px for stroke in area.strokes for px, py in stroke if py == area.box[3]]
    assert (x(min(deepest)), x(max(deepest))) == pytest.approx((321, 322), abs=0.02 * x[1])
    (dot,) = drawn.dots()
    assert (x(dot.middle[0]), y(dot.middle[1])) == pytest.approx((321.5, 3.1), abs=max(near, 0.02 * x[1]))
    assert len(figures.draw(BAND, figures.for_print(), narrow=narrow)) < 40_000


@BOTH
@pytest.mark.parametrize("at", ["rising to the limit", "falling to the limit", "spike", "at the left"])
def test_the_words_of_the_extreme_cross_neither_band_nor_limit(at: str, narrow: bool) -> None:
    grow = [1 - math.exp(-n / 150) for n in range(800)]
    courses = {
        "rising to the limit": ([3.4 + 0.76 * g for g in grow], 799),
        "falling to the limit": ([4.0 - 0.76 * g for g in grow], 799),
        "spike": ([3.6 - 0.35 * (n == 400) for n in range(800)], 400),
        "at the left": ([4.16 - 0.7 * g for g in grow], 0),
    }
    low, n = courses[at]
    extreme = Extreme(n + 0.5, low[n], "the extreme, 4.164 V", True)
    high = [value + 0.01 for value in low]
    drawn = picture(dataclasses.replace(BAND, low=tuple(low), high=tuple(high), extreme=extreme), narrow=narrow)
    (words,) = (w for w in drawn.words if w.words == extreme.words)
    assert words.anchor == "start"
    left, top, right, foot = words.x, words.y - 6, words.x + _width(extreme.words, "SemiBold"), words.y + 1
    (area,) = (path for path in drawn.paths if path.fill == "paint" and not path.width)
    inside = [(x, y) for stroke in area.strokes for x, y in stroke if left <= x <= right and top <= y <= foot]
    assert not inside
    for path in drawn.with_width("ink", 1.6):
        assert not top <= path.middle[1] <= foot


def test_a_flat_signal_is_still_seen() -> None:
    drawn = picture(Band((0.0, 1.0, 2.0, 3.0), (3.7,) * 3, (3.7,) * 3, "time, s", "V"))
    (area,) = (path for path in drawn.paths if path.fill == "paint")
    assert area.box[3] - area.box[1] == pytest.approx(1.2, abs=0.011)
    assert _scale(drawn, "y")(area.middle[1]) == pytest.approx(3.7, abs=1e-3)


@BOTH
def test_on_logarithmic_axes_a_point_stands_in_its_decade(narrow: bool) -> None:
    drawn = picture(CURVES, narrow=narrow)
    x, y = _scale(drawn, "x", log=True), _scale(drawn, "y", log=True)
    _, line = (path.strokes[0] for path in drawn.with_width("paint", 2))  # its sample in the key, and the curve
    assert [x(px) for px, _ in line] == pytest.approx([math.log10(v) for v in CURVES.curves[0].x], abs=0.001)
    assert [y(py) for _, py in line] == pytest.approx([math.log10(v) for v in CURVES.curves[0].y], abs=0.002)
    (mark,) = drawn.with_width("ink", 1.2)
    assert x(mark.middle[0]) == pytest.approx(math.log10(800), abs=0.001)


def test_two_hundred_decades_are_not_two_thousand_ticks() -> None:
    chart = Curves((Curve("far", (1e-100, 1e100), (1e-100, 1e100)),), "x", "y")
    assert len(figures.draw(chart, figures.for_print())) < 20_000


def test_numbers_of_an_axis_have_the_decimal_mark_of_the_language() -> None:
    assert "0.2" in [text for _, text in picture(DECAY).ticks("x")]
    with speaking(Language("de")):
        assert "0,2" in [text for _, text in picture(DECAY).ticks("x")]
        assert "0,1" in [text for _, text in picture(CURVES).ticks("y")]
    assert "0.2" in [text for _, text in picture(DECAY).ticks("x")], "and is not kept for the next language"


# ---------------------------------------------------------------- words


HOSTILE = (
    "$x^2$ $\\frac{1}{2}$ \\alpha", "<b>&amp;</b>", "\"><svg onload='x'>", "nul\x00 bell\x07 \ud800 \uffff",
    "a\nb\r\n\tc", "\u202eback", "\U0001f50b \u6f22\u5b57 \u05d0\u05d1", "x" * 400, "many words " * 60,
    "", " ", "$", "100 % $ \\", "{ink}",
)  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE)
@BOTH
def test_words_arrive_as_they_are_and_as_text(text: str, narrow: bool) -> None:
    def put(value: object) -> object:
        if isinstance(value, str) and value not in ("at-least", "at-most"):
            return text
        if isinstance(value, tuple):
            return tuple(map(put, value))
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            return type(value)(**{f.name: put(getattr(value, f.name)) for f in dataclasses.fields(value)})
        return value

    wanted = " ".join(re.sub("[\x00-\x08\ud800\uffff]", "\ufffd", text).split())
    for chart in ALL:
        drawn = picture(put(chart), narrow=narrow)
        own = [w for w in drawn.words if not re.fullmatch(r"\N{MINUS SIGN}?[\d.]+", w.words)]
        found = {" ".join(w.words.split()) for w in own}
        assert found - {f"± {wanted}", f"{wanted} ± {wanted}", "±"} == ({wanted} if wanted else set()), type(chart)


def test_a_long_label_breaks_into_lines_that_fit_its_column() -> None:
    """Kerning is left out, so one per cent is given."""
    label = "DC/DC converter, bonding of its case to the chassis rail Überspannungsableitermontageplattenschraube"
    rows = (dataclasses.replace(CHART.rows[0], label=label), CHART.rows[1])
    drawn = picture(dataclasses.replace(CHART, rows=rows))
    (found,) = (w for w in drawn.words if w.words.startswith("DC/DC"))
    assert found.words == label
    assert len(found.lines) > 4
    assert all(_width(line.rstrip()) <= 86 * 1.01 for line in found.lines)
    assert all(_width(a.rstrip()) > 30 for a in found.lines[:-1])
    (other,) = (w for w in drawn.words if w.words == "Charge inlet")
    assert other.y > found.y + 9.4 * (len(found.lines) - 1) + 9.4, "the next row begins below"


# ---------------------------------------------------------------- what the SVG holds


@BOTH
@pytest.mark.parametrize("chart", ALL, ids=lambda chart: type(chart).__name__)
def test_an_svg_holds_paths_and_words_and_nothing_that_clashes_in_a_page(chart: object, narrow: bool) -> None:
    screen = figures.draw(chart, figures.for_screen(), narrow=narrow)  # type: ignore[arg-type]
    paper = figures.draw(chart, figures.for_print(), narrow=narrow)  # type: ignore[arg-type]
    for svg in (screen, paper):
        assert set(re.findall(r"<(/?\w+)", svg)) <= {"svg", "/svg", "path", "text", "/text", "tspan", "/tspan"}
        assert not re.search(r'\b(id|class|style|href|xlink:href|clip-path|transform|on\w+)="|url\(|<!|<\?', svg)
        assert not re.search(r"\d\.\d{3}", svg), "two decimals at the most"
    assert set(re.findall(r"#[0-9a-f]{6}", paper)) <= set(LIGHT.values())
    assert "#" not in screen
    assert set(re.findall(r"var\(--(\w+)\)", screen)) <= set(LIGHT)
    colour = re.compile(r"#[0-9a-f]{6}|var\(--\w+\)|font-family=.*? font-size")
    assert colour.sub("", screen) == colour.sub("", paper), "one drawing serves both"
    sizes = {float(size) for size in re.findall(r'font-size="([\d.]+)"', paper)}
    assert all(7.5 <= size <= 8.5 for size in sizes)
    assert re.findall(r'viewBox="0 0 ([\d.]+)', paper) == ["250" if narrow else "368.5"]


def test_what_a_plot_does_not_consist_of_is_refused() -> None:
    from witnessmark.document.plots.svg import plain

    head = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">'
    sound = '<g><path d="M 1.2345 2 L 1.2345 3" style="fill: none; stroke: #15191e"/></g>'
    assert 'd="M1.23 2V3"' in plain(f"{head}{sound}</svg>", 10, 10).svg(figures.for_print())
    for bad in (
        '<g clip-path="url(#a)"><path d="M 1 2" style="fill: none"/></g>',
        '<path d="M 1 2" clip-path="url(#a)" style="fill: none"/>',
        '<path d="M 1 2" style="fill: #123456"/>',
        '<path d="M 1 2" style="fill: url(#h1)"/>',
        '<path d="M 1 2"/>',
        '<image xlink:href="data:x"/>',
        '<text x="1" y="2" transform="rotate(-90 1 2)" style="font-size: 8px; text-anchor: end">a</text>',
    ):
        with pytest.raises(ValueError):
            plain(f"{head}{bad}</svg>", 10, 10)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_has_no_place_is_refused(bad: float) -> None:
    for chart in (
        dataclasses.replace(CHART, limit=bad),
        dataclasses.replace(CHART, rows=(dataclasses.replace(CHART.rows[0], u=bad),)),
        dataclasses.replace(DECAY, voltage=(1.0, bad, 2.0)),
        dataclasses.replace(BAND, low=(bad,) * 800),
        dataclasses.replace(CURVES, gap_to=bad),
    ):
        with pytest.raises(ValueError):
            figures.draw(chart, figures.for_print())


@pytest.mark.parametrize("size", [1e-12, 1e-6, 1.0, 1e6, 1e12])
def test_any_size_of_number_is_drawn_on_the_paper(size: float) -> None:
    rows = tuple(dataclasses.replace(row, value=row.value * size, u=row.u * size) for row in CHART.rows)
    band = dataclasses.replace(
        BAND, low=tuple(v * size for v in BAND.low), high=tuple(v * size for v in BAND.high), limits=(), extreme=None
    )
    decay = dataclasses.replace(DECAY, voltage=tuple(v * size for v in DECAY.voltage), limit=60 * size)
    for chart in (dataclasses.replace(CHART, rows=rows, limit=500 * size), band, decay):
        drawn = picture(chart)
        for path in drawn.paths:
            left, top, right, bottom = path.box
            assert -3 <= left <= right <= drawn.width + 3 and -3 <= top <= bottom <= drawn.height + 3


# ---------------------------------------------------------------- the library, kept to itself


_DRAW = """
import hashlib, pathlib, sys
sys.path.insert(0, {root!r})
from tests.documents import test_plots as t
from witnessmark.document import figures
drawn = "".join(figures.draw(c, s, narrow=n) for c in t.ALL for s in (figures.for_print(), figures.for_screen())
                for n in (False, True))
from witnessmark.document.plots import plot
print(hashlib.sha256(drawn.encode()).hexdigest())
print(sorted({{pathlib.Path(f.fname).name for f in plot.font_manager.fontManager.ttflist}}))
print(pathlib.Path.cwd() == pathlib.Path({folder!r}))
"""


def test_the_same_bytes_everywhere_and_nothing_is_written(tmp_path: Path) -> None:
    """Another hash seed, folder, home, time zone and settings that lie in wait for the library."""
    said = []
    for seed in ("0", "1", "4321"):
        folder = tmp_path / f"at-{seed}"
        home = folder / "home"
        (home / ".config" / "matplotlib").mkdir(parents=True)
        for place in (folder, home / ".config" / "matplotlib"):
            (place / "matplotlibrc").write_text(f"font.size: {40 + int(seed)}\nlines.linewidth: 9\n", encoding="utf-8")
        before = sorted(path for path in folder.rglob("*"))
        environment = {
            "PATH": os.environ.get("PATH", ""),
            "HOME": str(home),
            "PYTHONHASHSEED": seed,
            "TZ": f"UTC+{seed[0]}",
            "PYTHONPATH": str(SOURCE.parent),
            "PYTHONDONTWRITEBYTECODE": "1",
        }
        code = _DRAW.format(root=str(ROOT), folder=str(folder))
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=folder, env=environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        assert done.stderr == ""
        said.append(done.stdout)
        assert sorted(path for path in folder.rglob("*")) == before, "no cache, no list of fonts"
    assert len(set(said)) == 1
    _, fonts, where = said[0].splitlines()
    assert fonts == "['FiraSansCondensed-Regular.ttf', 'FiraSansCondensed-SemiBold.ttf']", "no other font is looked at"
    assert where == "True"


def test_it_draws_in_the_confined_child(tmp_path: Path) -> None:
    """Without sockets and programs, with limited memory, and allowed to write into one folder only."""
    from witnessmark.confined import Session

    folder = tmp_path / "code"
    folder.mkdir()
    code = """
        def run(argument):
            from witnessmark.document import figures
            from witnessmark.document.blocks import Decay
            chart = Decay((0.0, 1.0), (400.0, 5.0), 60, "60 V", 1.0, "not after 1.00 s")
            return figures.draw(chart, figures.for_print())
    """
    (folder / "drawing_child.py").write_text(textwrap.dedent(code), encoding="utf-8")
    with Session(readable=[tmp_path / "nothing"], writable=(), cwd=tmp_path, code=[folder]) as session:
        svg = session.call("drawing_child:run", None)
    chart = Decay((0.0, 1.0), (400.0, 5.0), 60, "60 V", 1.0, "not after 1.00 s")
    assert svg == figures.draw(chart, figures.for_print())


def test_one_module_imports_the_library_and_only_a_drawing_loads_it() -> None:
    importers = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            if any(name.partition(".")[0] in ("matplotlib", "mpl_toolkits") for name in names):
                importers.add(path.relative_to(SOURCE).as_posix())
    assert importers == {"document/plots/plot.py"}
    code = f"""
        import contextlib, io, sys
        from witnessmark.cli.main import main
        with contextlib.redirect_stdout(io.StringIO()):
            for command in (["audit", "van-07"], ["check"], ["list", "methods"]):
                main([*command, "--folder", {str(ROOT)!r}])
        import witnessmark.document.build, witnessmark.document.figures, witnessmark.document.watch
        print([name for name in sys.modules if name.startswith("matplotlib")])
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code)], capture_output=True, text=True, check=True, cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(SOURCE.parent)},
    )  # fmt: skip
    assert done.stdout.strip().splitlines()[-1] == "[]"


def test_a_chart_is_drawn_once_for_each_width() -> None:
    figures._plotted.cache_clear()
    chart = sample.blocks()["shock"]["chart"].data  # type: ignore[union-attr]
    for style in (figures.for_print(), figures.for_screen()):
        for narrow in (False, True):
            figures.draw(chart, style, narrow=narrow)
    assert figures._plotted.cache_info().misses == 2
