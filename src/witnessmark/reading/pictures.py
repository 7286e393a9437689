"""Photographs: a bounded look, and a copy to publish without what the camera wrote beside the picture.

Decoders are the part of a program that hostile files attack. So `look` and `publish` take and give JSON-able values
and are meant to be run in the confined child; the limits are checked before anything is decoded. Only JPEG and PNG are
read. The original is never changed.

Source of the tags: Exif 2.32 (CIPA DC-008-2019), clause 4.6.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.problems import Place, Problem
from witnessmark.reading.files import hash_file

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["MAX_BYTES", "MAX_PIXELS", "Picture", "look", "look_at_sign", "picture_of", "publish", "published_copy"]

MAX_BYTES = 40_000_000
MAX_PIXELS = 50_000_000
LONGEST = 1600
_QUALITY = 85
_PNG, _JPEG = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"
_ORIENTATION, _EXIF_IFD, _GPS_IFD, _ORIGINAL, _CHANGED = 0x0112, 0x8769, 0x8825, 0x9003, 0x0132


@dataclass(frozen=True, slots=True)
class Picture:
    """What a photograph is. `width` and `height` in pixels as it is seen, after turning it upright.

    `taken`: date and time as the camera wrote them (`2026-10-14 16:21:05`), in no zone, or "" where it wrote none. It
    is what a clock inside a camera said, no more. `position`: whether it says where it was taken.
    """

    format: str
    width: int
    height: int
    orientation: int
    taken: str
    position: bool
    sha256: str
    size: int


class _Fault(Exception):
    def __init__(self, code: str, message: str, remedy: str) -> None:
        super().__init__(message)
        self.code, self.message, self.remedy = code, message, remedy


def look(argument: dict[str, Any]) -> dict[str, Any]:
    """For the confined child: `{"path": …, "max_bytes": …, "max_pixels": …}` to a `Picture` as a mapping.

    Or `{"code", "message", "remedy"}`: not a picture, too large, damaged. The whole picture is decoded once, since a
    cut one shows its fault only then. The digest is that of the bytes that were decoded.
    """
    try:
        data = _bytes_of(argument)
        with _opened(data, int(argument.get("max_pixels", MAX_PIXELS))) as image:
            width, height = image.size
            # Before its tags are asked: a PNG that is cut off fails already there, and not as one that is cut off.
            _load(image)
            exif = image.getexif()
            orientation = _orientation(exif)
            turned = orientation >= 5
            return {
                "format": "PNG" if data.startswith(_PNG) else "JPEG",
                "width": height if turned else width,
                "height": width if turned else height,
                "orientation": orientation,
                "taken": _taken(exif),
                # Some cameras write the version of the position block (tag 0) and no position.
                "position": any(exif.get_ifd(_GPS_IFD)) or b"exif:GPSL" in data,
                "sha256": hashlib.sha256(data).hexdigest(),
                "size": len(data),
            }
    except _Fault as fault:
        return {"code": fault.code, "message": fault.message, "remedy": fault.remedy}


def look_at_sign(argument: dict[str, Any]) -> dict[str, Any]:
    """For the confined child: as `look`, with `depth`: how far light and dark lie apart on a printer without colours.

    Transparent parts count as the white paper that they are printed on. 0: all of one shade; 255: black on white.
    """
    found = look(argument)
    if "code" in found:
        return found
    from PIL import Image

    try:
        # Not made smaller: that puts shades beside an edge which are in no pixel of the picture.
        copy = _copy(_bytes_of(argument), MAX_PIXELS, int(argument.get("max_pixels", MAX_PIXELS)))
    except _Fault as fault:
        return {"code": fault.code, "message": fault.message, "remedy": fault.remedy}
    with Image.open(io.BytesIO(copy)) as image:
        shades = image.convert("L").histogram()
    darkest, lightest = _first(shades), 255 - _first(shades[::-1])
    return {**found, "depth": lightest - darkest}


def _first(shades: list[int]) -> int:
    """The first shade from this end by which one pixel in two hundred is counted: no speck decides."""
    counted = 0
    for shade, pixels in enumerate(shades):
        counted += pixels
        if counted * 200 >= sum(shades):
            return shade
    return 0


def picture_of(answer: dict[str, Any], shown: str) -> Picture | Problem:
    """What `look` gave, as a value: `shown` is the picture's path for a person."""
    if "code" in answer:
        return Problem(answer["code"], answer["message"], answer["remedy"], Place(shown))
    return Picture(**answer)


def publish(argument: dict[str, Any]) -> dict[str, Any]:
    """For the confined child: `{"path", "to", "longest"}`; writes the published copy and gives its place and size.

    `"grey": True`: in shades of grey, for what is printed in black alone.

    Gives `{"to", "sha256", "source_sha256", "bytes", "width", "height"}`, or `{"code", "message", "remedy"}`.
    """
    try:
        data = _bytes_of(argument)
        copy = _copy(data, int(argument.get("longest", LONGEST)), int(argument.get("max_pixels", MAX_PIXELS)))
        if argument.get("grey"):
            copy = _grey(copy)
        Path(argument["to"]).write_bytes(copy)
        with _opened(copy, MAX_PIXELS) as image:
            width, height = image.size
        return {
            "to": argument["to"],
            "sha256": hashlib.sha256(copy).hexdigest(),
            "source_sha256": hashlib.sha256(data).hexdigest(),
            "bytes": len(copy),
            "width": width,
            "height": height,
        }
    except _Fault as fault:
        return {"code": fault.code, "message": fault.message, "remedy": fault.remedy}


def published_copy(data: bytes, longest: int = LONGEST) -> bytes:
    """The picture upright, at most `longest` pixels wide and high, with its pixels and nothing else.

    No position, camera, time, preview, comment or colour profile (the colours are turned into sRGB). The
    same bytes and the same library give the same copy. A PNG stays a PNG, without transparency. Raises ValueError for
    what `look` refuses.
    """
    try:
        return _copy(data, longest, MAX_PIXELS)
    except _Fault as fault:
        raise ValueError(fault.message) from None


def _bytes_of(argument: dict[str, Any]) -> bytes:
    limit = int(argument.get("max_bytes", MAX_BYTES))
    path = Path(argument["path"])
    hashed = hash_file(path, path.name, keep=limit)
    if isinstance(hashed, Problem):
        raise _Fault(hashed.code, hashed.message, hashed.remedy)
    if hashed.data is None:
        raise _Fault(
            "picture.bytes",
            f"the picture has {hashed.size / 1e6:.1f} MB; at most {limit / 1e6:g} MB are read",
            "take it with fewer pixels, or export it as JPEG",
        )
    return hashed.data


def _opened(data: bytes, max_pixels: int) -> Image.Image:
    """The picture's head, with the size checked; nothing is decoded yet."""
    from PIL import Image, UnidentifiedImageError

    if not data:
        raise _Fault("picture.empty", "the picture is empty", "copy it again")
    if not data.startswith((_PNG, _JPEG)):
        raise _Fault(
            "picture.format",
            "this is not a JPEG or PNG picture, whatever its name says",
            "export it as JPEG (a telephone: 'most compatible')",
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            # The library's own limit is above ours; it must speak up and not only warn.
            image = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_many(max_pixels) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, KeyError, IndexError, Warning, OverflowError):
        raise _damaged() from None
    width, height = image.size
    if width * height > max_pixels:
        raise _too_many(max_pixels, width, height)
    if width < 1 or height < 1:
        raise _damaged()
    return image


def _load(image: Image.Image) -> None:
    """Decode all of it."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            image.load()
    except MemoryError:
        raise
    except Exception:  # Decoders raise whatever they meet: struct.error, zlib.error, EOFError, SyntaxError, OSError …
        raise _damaged() from None


def _damaged() -> _Fault:
    return _Fault("picture.damaged", "the picture is damaged or cut off", "copy it again from the camera")


def _too_many(limit: int, width: int = 0, height: int = 0) -> _Fault:
    size = f"{width} × {height} pixels" if width else "far too many pixels"
    return _Fault(
        "picture.pixels",
        f"the picture has {size}; at most {limit / 1e6:g} million are read",
        "take it with fewer pixels",
    )


def _orientation(exif: Image.Exif) -> int:
    value = exif.get(_ORIENTATION, 1)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _taken(exif: Image.Exif) -> str:
    """Exif 4.6.5: DateTimeOriginal, else DateTime, both `YYYY:MM:DD HH:MM:SS`; anything else is no time."""
    import re

    for value in (exif.get_ifd(_EXIF_IFD).get(_ORIGINAL), exif.get(_CHANGED)):
        if isinstance(value, str):
            match = re.fullmatch(r"([0-9]{4}):([0-9]{2}):([0-9]{2}) ([0-9]{2}:[0-9]{2}:[0-9]{2})", value.strip("\0 "))
            if match and match[1] != "0000":
                return f"{match[1]}-{match[2]}-{match[3]} {match[4]}"
    return ""


def _copy(data: bytes, longest: int, max_pixels: int) -> bytes:
    from PIL import Image, ImageOps

    with _opened(data, max_pixels) as image:
        try:
            _orientation(image.getexif())
        except Exception:  # A broken head of tags must not stop the pixels from being shown, unturned.
            image.info.pop("exif", None)
        profile = image.info.get("icc_profile")
        _load(image)
        upright = ImageOps.exif_transpose(image)
    if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
        layers = upright.convert("RGBA")
        white = Image.new("RGBA", layers.size, "white")
        upright = Image.alpha_composite(white, layers).convert("RGB")
    elif upright.mode.startswith("I"):  # Sixteen bits of grey: keep the upper eight.
        upright = upright.convert("I").point(lambda value: value / 256).convert("L")
    if profile:
        upright = _in_srgb(upright, profile)
    if upright.mode not in ("RGB", "L"):
        upright = upright.convert("L" if upright.mode == "1" else "RGB")
    upright.thumbnail((longest, longest), Image.Resampling.LANCZOS, reducing_gap=None)
    # A fresh picture from the pixels alone: what stood beside them cannot come along.
    clean = Image.frombytes(upright.mode, upright.size, upright.tobytes())
    out = io.BytesIO()
    if data.startswith(_PNG):
        clean.save(out, "PNG", compress_level=6)
    else:
        clean.save(out, "JPEG", quality=_QUALITY, subsampling="4:2:0", optimize=False, progressive=False)
    return out.getvalue()


def _grey(copy: bytes) -> bytes:
    """The published copy without colours, as PNG."""
    from PIL import Image

    out = io.BytesIO()
    with Image.open(io.BytesIO(copy)) as image:
        image.convert("L").save(out, "PNG", compress_level=6)
    return out.getvalue()


def _in_srgb(image: Image.Image, profile: bytes) -> Image.Image:
    """Telephones take in wider colour spaces; without their profile the colours are wrong. Unreadable: as it is."""
    from PIL import ImageCms

    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if image.mode not in ("RGB", "CMYK", "L"):
            image = image.convert("RGB")
        mode = "L" if image.mode == "L" else "RGB"
        if mode == "L":
            return image
        changed = ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
        return changed if changed is not None else image
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return image
