"""Draws the pictures of the demonstration from `pictures.yaml`; every one says in itself that it is drawn.

    python -m tests.demonstration.draw_pictures

They stand for photographs: parts, probes, meters and the card with the record's code. One carries a rotation and an
(invented) position, as a telephone would write them, so that it can be seen that published copies lose the position.
"""

from __future__ import annotations

import io
import math
import sys
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from PIL import ExifTags, Image, ImageDraw, ImageFilter, ImageFont

ROOT = Path(__file__).resolve().parents[2]
FONTS = ROOT / "src" / "witnessmark" / "document" / "fonts"
WIDTH, HEIGHT, SCALE = 1200, 800, 2
LARGEST_BYTES = 120_000

ORANGE, ORANGE_LIGHT, ORANGE_DARK = (224, 112, 22), (250, 160, 72), (150, 68, 8)
COPPER, STEEL, STEEL_DARK = (190, 122, 74), (150, 156, 162), (92, 98, 104)
INK, PAPER, YELLOW = (22, 24, 27), (244, 242, 232), (250, 205, 22)

Colour = tuple[int, int, int]
Point = tuple[float, float]
Scene = Callable[["Canvas", Mapping[str, str]], None]


@lru_cache(maxsize=64)
def _font(size: int, weight: str = "Medium") -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FONTS / f"FiraSans-{weight}.ttf"), size * SCALE, layout_engine=ImageFont.Layout.BASIC)


def _mix(one: Colour, other: Colour, share: float) -> Colour:
    r, g, b = (round(a + (c - a) * share) for a, c in zip(one, other, strict=True))
    return r, g, b


class Canvas:
    """A picture twice as large as it will be, with the few shapes that the scenes are made of. Units: final pixels."""

    def __init__(self, top: Colour = (70, 74, 79), bottom: Colour = (38, 41, 45)) -> None:
        column = Image.new("RGB", (1, HEIGHT * SCALE))
        for y in range(HEIGHT * SCALE):
            column.putpixel((0, y), _mix(top, bottom, y / (HEIGHT * SCALE)))
        self.image = column.resize((WIDTH * SCALE, HEIGHT * SCALE))
        self.pen = ImageDraw.Draw(self.image)

    def _box(self, x: float, y: float, w: float, h: float) -> tuple[float, float, float, float]:
        return x * SCALE, y * SCALE, (x + w) * SCALE, (y + h) * SCALE

    def shadow(self, x: float, y: float, w: float, h: float, blur: float = 14, strength: int = 120) -> None:
        layer = Image.new("L", self.image.size, 0)
        ImageDraw.Draw(layer).rounded_rectangle(self._box(x + 6, y + 10, w, h), 14 * SCALE, fill=strength)
        self.image.paste((0, 0, 0), mask=layer.filter(ImageFilter.GaussianBlur(blur * SCALE / 2)))
        self.pen = ImageDraw.Draw(self.image)

    def plate(
        self,
        x: float,
        y: float,
        w: float,
        h: float,
        colour: Colour,
        *,
        r: float = 10,
        lit: float = 0.25,
        cast: bool = True,
    ) -> None:
        """A body with rounded corners, lit from above."""
        if cast:
            self.shadow(x, y, w, h)
        mask = Image.new("L", self.image.size, 0)
        ImageDraw.Draw(mask).rounded_rectangle(self._box(x, y, w, h), r * SCALE, fill=255)
        column = Image.new("RGB", (1, self.image.height))
        light, dark = _mix(colour, (255, 255, 255), lit), _mix(colour, (0, 0, 0), lit)
        for row in range(int(y * SCALE), min(int((y + h) * SCALE) + 1, self.image.height)):
            column.putpixel((0, row), _mix(light, dark, (row / SCALE - y) / max(h, 1)))
        self.image.paste(column.resize(self.image.size), mask=mask)
        self.pen = ImageDraw.Draw(self.image)

    def line(self, points: list[Point], width: float, colour: Colour) -> None:
        scaled = [(x * SCALE, y * SCALE) for x, y in points]
        self.pen.line(scaled, fill=colour, width=round(width * SCALE), joint="curve")
        for x, y in (scaled[0], scaled[-1]):
            radius = width * SCALE / 2
            self.pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=colour)

    def cable(self, points: list[Point], width: float = 34, colour: Colour = ORANGE) -> None:
        """A cable with a dark edge and a light along its upper side."""
        curve = _smooth(points)
        self.line([(x + 4, y + 9) for x, y in curve], width + 6, (24, 26, 28))
        self.line(curve, width, _mix(colour, (0, 0, 0), 0.34))
        self.line([(x, y - width * 0.06) for x, y in curve], width * 0.78, colour)
        self.line([(x, y - width * 0.24) for x, y in curve], width * 0.16, _mix(colour, (255, 255, 255), 0.45))

    def disc(self, x: float, y: float, radius: float, colour: Colour, edge: Colour | None = None) -> None:
        self.pen.ellipse(
            self._box(x - radius, y - radius, 2 * radius, 2 * radius), fill=colour, outline=edge, width=2 * SCALE
        )

    def bolt(self, x: float, y: float, radius: float = 17, *, mark: bool = False) -> None:
        self.disc(x + 2, y + 4, radius + 2, (30, 32, 34))
        self.disc(x, y, radius, STEEL_DARK)
        hexagon = [
            (x + radius * 0.8 * math.cos(a), y + radius * 0.8 * math.sin(a))
            for a in (k * math.pi / 3 for k in range(6))
        ]
        self.polygon(hexagon, (188, 194, 199), (70, 74, 78))
        if mark:  # the painted line across head and seat
            self.line([(x - radius * 1.3, y + radius * 0.5), (x + radius * 1.3, y - radius * 0.5)], 5, (18, 88, 160))

    def polygon(self, points: list[Point], colour: Colour, edge: Colour | None = None, width: int = 2) -> None:
        scaled = [(x * SCALE, y * SCALE) for x, y in points]
        self.pen.polygon(scaled, fill=colour)
        if edge:
            self.pen.line([*scaled, scaled[0], scaled[1]], fill=edge, width=width * SCALE, joint="curve")

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: int = 26,
        colour: Colour = INK,
        weight: str = "Medium",
        anchor: str = "la",
    ) -> None:
        self.pen.multiline_text(
            (x * SCALE, y * SCALE),
            words,
            font=_font(size, weight),
            fill=colour,
            anchor=anchor if "\n" not in words else None,
        )

    def label(self, x: float, y: float, words: str, size: int = 24) -> None:
        w = self.pen.textlength(words, font=_font(size, "SemiBold")) / SCALE + 22
        self.plate(x, y, w, size + 18, PAPER, r=4, lit=0.05)
        self.text(x + 11, y + 6, words, size, INK, "SemiBold")

    def sign(self, x: float, y: float, side: float) -> None:
        """Yellow triangle, black edge, lightning arrow: the sign for voltage (after ISO 7010, W012, from memory)."""
        h = side * math.sqrt(3) / 2
        self.polygon([(x, y - h * 2 / 3), (x + side / 2, y + h / 3), (x - side / 2, y + h / 3)], INK)
        k = 0.80
        self.polygon(
            [(x, y - h * 2 / 3 * k), (x + side / 2 * k, y + h / 3 * k), (x - side / 2 * k, y + h / 3 * k)], YELLOW
        )
        s = side / 100
        arrow = [
            (4, -34),
            (-11, -2),
            (-1, -4),
            (-7, 12),
            (-12, 10),
            (-6, 25),
            (4, 13),
            (-1, 14),
            (9, -11),
            (-1, -9),
            (9, -32),
        ]
        self.polygon([(x + a * s, y + (b + 3) * s) for a, b in arrow], INK)

    def finger(self, tip: Point, angle: float, bend: float = 25, length: float = 260) -> None:
        """The jointed test finger, tip first; `angle` in degrees of its last limb, `bend` at each joint."""
        x, y = tip
        limbs = ((30, 0.30), (34, 0.26), (36, 0.30))
        a = math.radians(angle)
        joints = [(x, y)]
        for number, (_, share) in enumerate(limbs):
            x, y = x + math.cos(a) * length * share, y + math.sin(a) * length * share
            joints.append((x, y))
            a += math.radians(bend if number < 2 else 0)
        for (x0, y0), (x1, y1), (w, _) in zip(joints, joints[1:], limbs, strict=False):
            self.line([(x0 + 3, y0 + 8), (x1 + 3, y1 + 8)], w + 4, (26, 28, 30))
            self.line([(x0, y0), (x1, y1)], w, (168, 173, 178))
            self.line([(x0, y0 - w * 0.2), (x1, y1 - w * 0.2)], w * 0.25, (222, 226, 229))
        for x0, y0 in joints[1:3]:
            self.disc(x0, y0, 12, STEEL_DARK, (40, 43, 46))
        end = (x + math.cos(a) * 130, y + math.sin(a) * 130)
        normal = (-math.sin(a), math.cos(a))
        self.line(
            [(x + normal[0] * 46, y + normal[1] * 46), (x - normal[0] * 46, y - normal[1] * 46)], 26, (120, 125, 130)
        )
        self.line([(x, y), end], 44, (36, 39, 43))

    def wire(self, tip: Point, angle: float, length: float = 190) -> None:
        """The rigid wire probe with its sphere."""
        a = math.radians(angle)
        x, y = tip[0] + math.cos(a) * length, tip[1] + math.sin(a) * length
        self.line([tip, (x, y)], 4, (214, 218, 221))
        self.disc(x, y, 34, (132, 137, 142))
        self.disc(x - 9, y - 11, 10, (206, 210, 214))
        self.line(
            [(x + math.cos(a) * 30, y + math.sin(a) * 30), (x + math.cos(a) * 160, y + math.sin(a) * 160)],
            40,
            (36, 39, 43),
        )

    def card(self, row: Mapping[str, str], x: float = 40, y: float = 640, lean: float = -4) -> None:
        """The card that lies in the picture: vehicle, what it shows, and the code of the record."""
        vehicle = "SAMPLE · " + row["file"].split("/")[2].upper()
        w, h = 380, 118
        card = Image.new("RGBA", (w * SCALE, h * SCALE), (0, 0, 0, 0))
        pen = ImageDraw.Draw(card)
        pen.rounded_rectangle((0, 0, w * SCALE - 1, h * SCALE - 1), 8 * SCALE, fill=(*PAPER, 255))
        seed = sum(ord(c) * 31**i for i, c in enumerate(row["code"]))
        for i in range(13):
            for j in range(13):
                seed = (seed * 1103515245 + 12345) % 2**31
                corner = (i < 4 and (j < 4 or j > 8)) or (i > 8 and j < 4)
                ring = corner and (i % 9 in (0, 3) or j % 9 in (0, 3) or (i % 9 in (1, 2) and j % 9 in (1, 2)))
                if ring or (not corner and seed % 2):
                    pen.rectangle(
                        (
                            (10 + i * 7.5) * SCALE,
                            (10 + j * 7.5) * SCALE,
                            (17.5 + i * 7.5) * SCALE,
                            (17.5 + j * 7.5) * SCALE,
                        ),
                        fill=INK,
                    )
        pen.text((124 * SCALE, 10 * SCALE), vehicle, font=_font(20), fill=(90, 94, 98))
        pen.text((124 * SCALE, 38 * SCALE), row["sub"], font=_font(19, "SemiBold"), fill=INK)
        pen.text((124 * SCALE, 68 * SCALE), row["code"], font=_font(32, "Bold"), fill=INK)
        turned = card.rotate(lean, resample=Image.Resampling.BICUBIC, expand=True)
        self.shadow(x + 6, y + 10, w, h, blur=10)
        self.image.paste(turned, (round(x * SCALE), round(y * SCALE)), turned)
        self.pen = ImageDraw.Draw(self.image)

    def finished(self) -> Image.Image:
        self.text(WIDTH - 16, HEIGHT - 34, "Drawn picture, demonstration", 19, (236, 238, 240), "Medium", "ra")
        return self.image.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS)


def _smooth(points: list[Point]) -> list[Point]:
    """A curve through the points (Catmull-Rom, uniform)."""
    padded = [points[0], *points, points[-1]]
    curve: list[Point] = []
    for p0, p1, p2, p3 in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        for step in range(24):
            t = step / 24
            curve.append(
                tuple(  # type: ignore[arg-type]  # two coordinates in, two out
                    0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
                    for a, b, c, d in zip(p0, p1, p2, p3, strict=True)
                )
            )
    return [*curve, points[-1]]


def _meter(c: Canvas, x: float, y: float, name: str, value: str, unit: str) -> None:
    c.plate(x, y, 240, 360, (58, 63, 70), r=22)
    c.plate(x + 14, y + 14, 212, 332, (36, 40, 45), r=14, cast=False)
    c.plate(x + 28, y + 30, 184, 96, (196, 206, 186), r=6, lit=0.08, cast=False)
    c.text(x + 38, y + 34, name, 17, (60, 66, 56))
    c.text(x + 204, y + 34, unit, 17, (60, 66, 56), anchor="ra")
    c.text(x + 204, y + 122, value, 54, INK, "SemiBold", "rd")
    c.disc(x + 120, y + 222, 60, (52, 57, 63), (86, 92, 99))
    c.line([(x + 120, y + 222), (x + 92, y + 182)], 9, PAPER)
    for k in range(9):
        a = math.radians(150 + k * 30)
        c.disc(x + 120 + 76 * math.cos(a), y + 222 + 76 * math.sin(a), 3, (190, 194, 198))
    c.disc(x + 62, y + 322, 11, (18, 19, 21), (120, 124, 128))
    c.disc(x + 178, y + 322, 11, (140, 20, 20), (120, 124, 128))


def scene_meter(c: Canvas, row: Mapping[str, str]) -> None:
    """Two poles, the known resistor or tester's note, the meter with its reading."""
    c.plate(60, 40, 720, 560, (122, 128, 134), r=18)
    c.plate(110, 92, 620, 458, (50, 54, 59), r=10, cast=False)
    poles = ("L", "N") if "inlet" in row["title"] else ("HV +", "HV −")
    for y, name in zip((150, 400), poles, strict=True):
        c.cable([(420, y + 30), (600, y + 20), (720, y - 20), (900, y - 50), (1240, y - 66)], 46)
        c.plate(150, y, 330, 58, COPPER, r=6, lit=0.3)
        c.bolt(200, y + 29, 20, mark=True)
        c.bolt(420, y + 29, 20, mark=True)
        c.label(262, y + 78, name, 22)
    c.plate(190, 300, 210, 66, (206, 208, 210), r=8, lit=0.1)
    c.text(204, 306, row["box"], 20, INK, "SemiBold")
    c.disc(370, 333, 17, (70, 74, 78), (40, 42, 44))
    _meter(c, 860, 250, row["meter"], row["value"], row["unit"])
    c.line(_smooth([(1038, 572), (1030, 660), (800, 690), (560, 560), (455, 440)]), 9, (150, 26, 26))
    c.line(_smooth([(922, 572), (900, 640), (760, 640), (680, 600), (640, 560)]), 9, (20, 21, 23))
    c.line([(470, 455), (430, 424)], 16, (150, 26, 26))
    c.disc(640, 552, 16, STEEL, (60, 63, 66))


def scene_connector(c: Canvas, row: Mapping[str, str]) -> None:
    """A mated connector with its number, and the jointed finger at its seal."""
    lean = (sum(map(ord, row["title"])) % 5 - 2) * 12
    c.plate(40, 480, 1120, 90, (104, 110, 116), r=8)
    c.cable([(-40, 380 - lean), (140, 340), (330, 330)], 64)
    c.cable([(820, 330), (1000, 330), (1240, 300 + lean)], 64)
    c.plate(320, 250, 250, 165, (60, 64, 70), r=22)
    c.plate(560, 232, 280, 200, (46, 50, 55), r=26)
    for k in range(6):
        c.plate(590 + k * 38, 244, 14, 176, (66, 71, 77), r=6, cast=False)
    c.plate(540, 240, 30, 184, ORANGE, r=8, cast=False)
    c.plate(470, 215, 190, 48, ORANGE_DARK, r=10)
    c.label(368, 306, row["title"], 40)
    c.finger((556, 432), 72 + lean / 4, -18)


def scene_enclosure(c: Canvas, row: Mapping[str, str]) -> None:
    """A box with lid, screws, plate and strap, and the probe at its cable entry."""
    c.plate(20, 600, 1160, 80, (84, 90, 96), r=6)
    c.plate(150, 150, 640, 440, (148, 153, 158), r=20)
    c.plate(180, 120, 580, 90, (168, 173, 177), r=14)
    for x in (210, 380, 560, 730):
        c.bolt(x, 166, 14, mark=True)
    for k in range(9):
        c.plate(200 + k * 62, 470, 24, 96, (128, 133, 138), r=6, cast=False)
    c.plate(220, 260, 300, 150, PAPER, r=6, lit=0.04)
    c.text(238, 270, row["title"], 25, INK, "SemiBold")
    c.text(238, 310, f"serial {row['serial']}", 27)
    c.text(238, 352, "403.2 V DC, highest", 21, (80, 84, 88))
    if row["sign"] == "yes":
        c.sign(640, 345, 150)
    c.cable([(780, 520), (900, 520), (1030, 470), (1240, 440)], 52)
    c.plate(760, 480, 66, 84, (44, 48, 52), r=10)
    c.line(_smooth([(560, 588), (572, 630), (640, 648)]), 18, (196, 150, 60))
    c.bolt(644, 648, 18, mark=True)
    if row["probe"] == "wire":
        c.wire((800, 470), -64)
    else:
        c.finger((838, 488), -58, 22)


def scene_socket(c: Canvas, row: Mapping[str, str]) -> None:
    """The open socket of the service disconnect."""
    c.plate(200, 110, 760, 500, (70, 75, 81), r=26)
    c.plate(330, 200, 460, 320, ORANGE_DARK, r=24)
    c.plate(360, 226, 400, 268, (26, 28, 31), r=16, cast=False)
    for x in (460, 640):
        c.plate(x - 44, 262, 88, 196, (44, 48, 52), r=18, cast=False)
        c.plate(x - 14, 292, 28, 136, (14, 15, 17), r=8, cast=False)
    c.label(250, 134, row["title"], 36)
    c.sign(880, 205, 110)
    c.finger((640, 330), -38, 20)


def scene_sign(c: Canvas, row: Mapping[str, str]) -> None:
    """The warning sign on the pack's case."""
    c.plate(40, 60, 1120, 560, (132, 138, 144), r=26)
    for k in range(8):
        c.plate(80 + k * 136, 520, 70, 76, (112, 118, 124), r=8, cast=False)
    for x in (90, 350, 610, 870, 1110):
        c.bolt(x, 104, 16, mark=True)
    c.plate(390, 150, 400, 350, PAPER, r=10, lit=0.03)
    c.sign(590, 345, 300)
    c.label(860, 190, f"pack {row['title']}", 34)
    c.cable([(1030, 420), (1100, 430), (1240, 470)], 56)
    c.plate(960, 370, 90, 110, (44, 48, 52), r=12)


def scene_cable(c: Canvas, row: Mapping[str, str]) -> None:
    """Orange cable along a rail, with clips."""
    c.plate(-20, 120, 1240, 110, (88, 94, 100), r=4)
    c.plate(-20, 520, 1240, 60, (74, 79, 85), r=4)
    rows = (330, 430) if row["two"] == "yes" else (370,)
    for number, y in enumerate(rows):
        c.cable([(-40, y), (240, y + 8), (520, y - 10), (820, y + 12), (1240, y - 30 * number)], 58)
    for x in (180, 470, 760, 1050):
        c.plate(x, rows[0] - 52, 34, rows[-1] - rows[0] + 104, (52, 56, 61), r=8)
        c.bolt(x + 17, rows[0] - 66, 13, mark=True)
    c.label(830, 160, row["title"], 30)


def scene_display(c: Canvas, row: Mapping[str, str]) -> None:
    """The display as the driver sees it."""
    c.plate(120, 110, 960, 480, (28, 30, 33), r=46)
    c.plate(160, 146, 880, 408, (10, 12, 15), r=28, cast=False)
    c.disc(420, 350, 160, (18, 22, 27), (70, 78, 86))
    for k in range(11):
        a = math.radians(150 + k * 24)
        c.line(
            [(420 + 140 * math.cos(a), 350 + 140 * math.sin(a)), (420 + 122 * math.cos(a), 350 + 122 * math.sin(a))],
            4,
            (190, 198, 206),
        )
    c.text(420, 350, "0", 74, (236, 240, 243), "SemiBold", "mm")
    c.text(420, 420, "km/h", 22, (150, 158, 166), anchor="mm")
    for k, gear in enumerate("RND"):
        chosen = gear == row["gear"]
        c.text(
            700 + k * 90, 430, gear, 70 if chosen else 46, (240, 244, 247) if chosen else (84, 92, 100), "Bold", "mm"
        )
    if row["lamp"]:
        red = row.get("red") == "yes"
        c.plate(640, 210, 300, 92, (120, 16, 16) if red else (16, 96, 50), r=14, cast=False)
        c.text(790, 256, row["lamp"], 44, (255, 255, 255), "Bold", "mm")
        if red:
            c.text(790, 335, "pack fault, stop and leave", 26, (255, 150, 140), anchor="mm")


def scene_directions(c: Canvas, row: Mapping[str, str]) -> None:
    """The display twice: forward chosen, and reverse chosen."""
    for x, gear in ((60, "D"), (630, "R")):
        c.plate(x, 150, 510, 400, (28, 30, 33), r=36)
        c.plate(x + 26, 176, 458, 348, (10, 12, 15), r=22, cast=False)
        c.text(x + 255, 270, "forward" if gear == "D" else "reverse", 34, (190, 198, 206), anchor="mm")
        for k, one in enumerate("RND"):
            chosen = one == gear
            c.text(
                x + 155 + k * 100,
                400,
                one,
                92 if chosen else 50,
                (240, 244, 247) if chosen else (84, 92, 100),
                "Bold",
                "mm",
            )


def scene_wash(c: Canvas, row: Mapping[str, str]) -> None:
    """The jet at the inlet flap."""
    c.plate(420, 60, 720, 560, (166, 40, 36), r=30)
    c.plate(560, 200, 260, 240, (140, 32, 28), r=24, cast=False)
    c.disc(690, 320, 92, (30, 32, 35), (200, 204, 208))
    for k in range(60):
        a = (k * 37 % 100) / 100
        c.line(
            [(120 + 8 * (k % 5), 420 - 3 * (k % 7)), (560 + 60 * a, 230 + 190 * ((k * 61 % 100) / 100))],
            3,
            (190, 214, 232),
        )
    for k in range(90):
        c.disc(470 + (k * 83 % 620), 120 + (k * 57 % 470), 3 + k % 4, (214, 228, 238))
    c.line([(0, 470), (130, 420)], 46, (44, 48, 52))
    c.line([(110, 428), (150, 412)], 22, (188, 156, 70))


def scene_wade(c: Canvas, row: Mapping[str, str]) -> None:
    """The staff in the water beside a wheel."""
    c.plate(-20, 40, 1240, 300, (166, 40, 36), r=10)
    c.disc(420, 380, 210, (30, 32, 34))
    c.disc(420, 380, 120, (150, 155, 160), (90, 94, 98))
    c.disc(420, 380, 30, (90, 95, 100))
    c.plate(-20, 500, 1240, 340, (74, 98, 112), r=0, lit=0.3, cast=False)
    for k in range(34):
        x, y = (k * 131) % 1180, 520 + (k * 47) % 110
        c.line([(x, y), (x + 70, y - 4)], 3, (140, 166, 180))
    c.plate(820, 150, 74, 420, PAPER, r=4, lit=0.05)
    for k in range(36):
        y = 560 - k * 11
        c.line([(822, y), (846 if k % 5 else 866, y)], 3, (180, 20, 20) if k % 10 < 5 else INK)
    c.text(900, 470, "10 cm", 34, (240, 244, 246), "SemiBold")
    c.line([(896, 505), (1040, 505)], 4, (240, 244, 246))


def scene_outlet(c: Canvas, row: Mapping[str, str]) -> None:
    """The outlet of the vent duct at the pack's rear face."""
    c.plate(40, 80, 1120, 460, (132, 138, 144), r=26)
    c.disc(600, 310, 130, (58, 62, 67), (40, 42, 45))
    c.disc(600, 310, 96, (24, 26, 28), (84, 89, 94))
    for k in range(5):
        c.line([(520 + k * 40, 240), (520 + k * 40, 380)], 8, (96, 101, 106))
    for k in range(6):
        a = math.radians(k * 60)
        c.bolt(600 + 114 * math.cos(a), 310 + 114 * math.sin(a), 11, mark=True)
    c.label(790, 180, "vent, to the outside", 28)
    c.plate(700, 560, 420, 36, (236, 214, 90), r=4, lit=0.05)
    for k in range(21):
        c.line([(706 + k * 20, 562), (706 + k * 20, 580 if k % 5 else 590)], 2, INK)


SCENES: Mapping[str, Scene] = {
    name.removeprefix("scene_"): value for name, value in sorted(globals().items()) if name.startswith("scene_")
}


def draw(row: Mapping[str, str]) -> Image.Image:
    canvas = Canvas()
    SCENES[row["scene"]](canvas, row)
    canvas.card(row)
    return canvas.finished()


def _exif(row: Mapping[str, str], turned: bool) -> Image.Exif:
    """What a camera would write: when, and for one picture how it was held and where."""
    exif = Image.Exif()
    exif[ExifTags.Base.Make.value] = "Invented"
    exif[ExifTags.Base.Model.value] = "drawn for the demonstration"
    exif[ExifTags.Base.Orientation.value] = 6 if turned else 1
    times: dict[int, Any] = exif.get_ifd(ExifTags.IFD.Exif)
    times[ExifTags.Base.DateTimeOriginal.value] = row["taken"].replace("-", ":").replace("T", " ") + ":00"
    if turned:
        place: dict[int, Any] = exif.get_ifd(ExifTags.IFD.GPSInfo)
        place[ExifTags.GPS.GPSLatitudeRef.value] = "N"
        place[ExifTags.GPS.GPSLatitude.value] = (56.0, 30.0, 0.0)
        place[ExifTags.GPS.GPSLongitudeRef.value] = "E"
        place[ExifTags.GPS.GPSLongitude.value] = (3.0, 15.0, 0.0)
    return exif


def encoded(row: Mapping[str, str]) -> bytes:
    """The picture as JPEG, at most 120 kB."""
    picture = draw(row)
    turned = row["file"].endswith("/x3-mated.jpg")
    if turned:
        picture = picture.rotate(90, expand=True)  # orientation 6 turns it back by a quarter to the right
    for quality in (84, 78, 70, 60):
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=quality, optimize=True, exif=_exif(row, turned))
        if out.tell() <= LARGEST_BYTES:
            break
    return out.getvalue()


def table() -> list[dict[str, str]]:
    rows: list[dict[str, str]] = yaml.load(
        (Path(__file__).parent / "pictures.yaml").read_text(encoding="utf-8"), yaml.BaseLoader
    )
    return rows


def main() -> None:
    """Draw all, or those whose file names contain one of the words given."""
    words = sys.argv[1:]
    for row in table():
        if words and not any(word in row["file"] for word in words):
            continue
        path = ROOT / row["file"]
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(encoded(row))


if __name__ == "__main__":
    main()
