"""Draws the mark of the demonstration's workshop. The workshop is invented, and so is the mark.

python -m tests.demonstration.draw_mark
"""

from __future__ import annotations

import io
import math
import sys
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

ROOT = Path(__file__).resolve().parents[2]
MARK = ROOT / "evidence" / "mark.png"
_FONT = ROOT / "src" / "witnessmark" / "document" / "fonts" / "FiraSans-SemiBold.ttf"
WIDTH, HEIGHT, SCALE = 900, 600, 4
INK = 26


def drawn() -> bytes:
    """Letters above two waves, in a frame: dark on nothing, so that any paper shows through."""
    image = Image.new("LA", (WIDTH * SCALE, HEIGHT * SCALE), (255, 0))
    pen = ImageDraw.Draw(image)
    ink = (INK, 255)
    edge = 22 * SCALE
    pen.rectangle(
        (edge // 2, edge // 2, WIDTH * SCALE - edge // 2, HEIGHT * SCALE - edge // 2), outline=ink, width=edge
    )
    font = ImageFont.truetype(str(_FONT), 300 * SCALE, layout_engine=ImageFont.Layout.BASIC)
    pen.text((WIDTH * SCALE / 2, 345 * SCALE), "SEC", font=font, fill=ink, anchor="ms")
    for middle in (420, 495):
        for step in range(90 * SCALE, (WIDTH - 90) * SCALE):
            y = middle + 18 * math.sin((step / SCALE - 90) / 720 * 6 * math.pi)
            pen.circle((step, y * SCALE), 12 * SCALE, fill=ink)
    small = image.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    small.save(out, "PNG", optimize=True)
    return out.getvalue()


def main() -> int:
    MARK.write_bytes(drawn())
    return 0


if __name__ == "__main__":
    sys.exit(main())
