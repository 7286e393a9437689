"""Pictures that are not what they say, and copies that must not say more than they show."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import Image

from witnessmark.confined import ConfinedFault, call
from witnessmark.problems import Problem
from witnessmark.reading.pictures import Picture, look, picture_of, publish, published_copy


def photo(
    size: tuple[int, int] = (80, 40),
    *,
    orientation: int | None = None,
    position: bool = False,
    taken: str | None = None,
    form: str = "JPEG",
) -> bytes:
    """Left half red, right half blue, as the sensor saw it."""
    image = Image.new("RGB", size, (220, 20, 20))
    image.paste((20, 20, 220), (size[0] // 2, 0, *size))
    exif = Image.Exif()
    if orientation:
        exif[0x0112] = orientation
    exif[0x010F] = "Invented Camera"
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    if position:
        exif.get_ifd(0x8825).update({1: "N", 2: (50.0, 3.0, 2.0), 3: "E", 4: (8.0, 4.0, 1.0)})
    out = io.BytesIO()
    image.save(out, form, exif=exif)
    return out.getvalue()


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def flat_png(width: int, height: int) -> bytes:
    """A large one-colour picture in few bytes, by the PNG specification (ISO/IEC 15948), clause 11.2."""
    rows = zlib.compress(b"\0" * (1 + width // 8) * 64, 9)
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def seen(tmp_path: Path, data: bytes, **limits: int) -> Picture | Problem:
    file = tmp_path / "picture.jpg"
    file.write_bytes(data)
    return picture_of(look({"path": str(file), **limits}), "photos/picture.jpg")


def test_what_a_photo_says(tmp_path: Path) -> None:
    found = seen(tmp_path, photo(orientation=6, position=True, taken="2026:10:14 16:21:05"))
    assert isinstance(found, Picture)
    # Orientation 6: the sensor's top is on the right; upright it is 40 wide and 80 high (Exif 2.32, 4.6.4).
    assert (found.format, found.width, found.height, found.orientation) == ("JPEG", 40, 80, 6)
    assert found.taken == "2026-10-14 16:21:05"
    assert found.position
    plain = seen(tmp_path, photo(form="PNG"))
    assert isinstance(plain, Picture)
    assert (plain.format, plain.taken, plain.position) == ("PNG", "", False)


@pytest.mark.parametrize("taken", ["0000:00:00 00:00:00", "yesterday", "2026:10:14", "    :  :     :  :  "])
def test_a_time_that_is_none(tmp_path: Path, taken: str) -> None:
    found = seen(tmp_path, photo(taken=taken))
    assert isinstance(found, Picture)
    assert found.taken == ""


BAD = {
    "empty": (b"", "picture.empty"),
    "text": (b"hello", "picture.format"),
    "program": (b"MZ\x90\0", "picture.format"),
    "vector": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "picture.format"),
    "gif": (b"GIF89a" + b"\0" * 40, "picture.format"),
    "head-only": (photo()[:20], "picture.damaged"),
    "cut": (photo((400, 400))[:-900], "picture.damaged"),
    "cut-png": (photo(form="PNG")[:-60], "picture.damaged"),
    "png-without-rows": (flat_png(64, 64)[:33], "picture.damaged"),
    "bomb": (flat_png(9000, 9000), "picture.pixels"),
    "huge-bomb": (flat_png(60000, 60000), "picture.pixels"),
    "no-pixels": (flat_png(0, 0), "picture.damaged"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_pictures(tmp_path: Path, name: str) -> None:
    data, code = BAD[name]
    found = seen(tmp_path, data)
    assert isinstance(found, Problem)
    assert (found.code, str(found.place)) == (code, "photos/picture.jpg")
    assert found.remedy
    with pytest.raises(ValueError):
        published_copy(data)


def test_too_many_bytes_and_links(tmp_path: Path) -> None:
    found = seen(tmp_path, photo(), max_bytes=100)
    assert isinstance(found, Problem)
    assert found.code == "picture.bytes"
    (tmp_path / "link.jpg").symlink_to(tmp_path / "picture.jpg")
    assert look({"path": str(tmp_path / "link.jpg")})["code"] == "files.link"


# Where the red half lies once upright, for each orientation (Exif 2.32, 4.6.4: which side row 0 and column 0 are).
RED = {1: "left", 2: "right", 3: "right", 4: "left", 5: "top", 6: "top", 7: "bottom", 8: "bottom"}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_copy_is_upright_and_bare(orientation: int, form: str) -> None:
    data = photo((80, 40), orientation=orientation, position=True, taken="2026:10:14 16:21:05", form=form)
    copy = published_copy(data)
    with Image.open(io.BytesIO(copy)) as image:
        assert image.format == form
        width, height = image.size
        corner = {"left": (2, height // 2), "right": (width - 3, height // 2), "top": (width // 2, 2),
                  "bottom": (width // 2, height - 3)}[RED[orientation]]  # fmt: skip
        pixel = image.convert("RGB").getpixel(corner)
        assert isinstance(pixel, tuple)
        assert pixel[0] > 150 > pixel[2]
        assert not dict(image.getexif())
        assert not {"exif", "icc_profile", "comment", "xmp"} & set(image.info)
    for trace in (b"Exif", b"Invented", b"2026", b"http://ns.adobe.com", b"GPS"):
        assert trace not in copy
    assert published_copy(data) == copy


def test_copy_is_small_enough_and_original_untouched(tmp_path: Path) -> None:
    data = photo((3000, 2000), position=True)
    file = tmp_path / "big.jpg"
    file.write_bytes(data)
    answer = publish({"path": str(file), "to": str(tmp_path / "copy.jpg"), "longest": 1600})
    assert (answer["width"], answer["height"]) == (1600, 1067)
    assert file.read_bytes() == data
    assert answer["bytes"] == (tmp_path / "copy.jpg").stat().st_size


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16"])
def test_every_kind_of_png(mode: str) -> None:
    out = io.BytesIO()
    Image.new(mode, (20, 10)).save(out, "PNG")
    with Image.open(io.BytesIO(published_copy(out.getvalue()))) as image:
        assert image.mode in ("L", "RGB")


def test_cmyk_jpeg() -> None:
    out = io.BytesIO()
    Image.new("CMYK", (20, 10), (0, 255, 255, 0)).save(out, "JPEG")
    with Image.open(io.BytesIO(published_copy(out.getvalue()))) as image:
        assert image.mode == "RGB"


def test_in_the_confined_child(tmp_path: Path) -> None:
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "a.jpg").write_bytes(photo(position=True))
    answer = call("witnessmark.reading.pictures:look", {"path": str(folder / "a.jpg")}, readable=[folder], seconds=30)
    assert isinstance(picture_of(answer, "photos/a.jpg"), Picture)
    answer = call(
        "witnessmark.reading.pictures:publish",
        {"path": str(folder / "a.jpg"), "to": str(tmp_path / "out.jpg")},
        readable=[folder],
        writable=[tmp_path],
        seconds=30,
    )
    assert (tmp_path / "out.jpg").read_bytes() == published_copy(photo(position=True))
    assert answer["width"] == 80


def test_memory_is_bounded(tmp_path: Path) -> None:
    """With our own limit of pixels out of the way, the child's limit of memory still holds."""
    (tmp_path / "bomb.png").write_bytes(flat_png(12000, 12000))
    out = io.BytesIO()
    Image.new("RGB", (9000, 9000)).save(out, "PNG", compress_level=1)
    (tmp_path / "big.png").write_bytes(out.getvalue())
    with pytest.raises(ConfinedFault) as caught:
        call(
            "witnessmark.reading.pictures:look",
            {"path": str(tmp_path / "big.png"), "max_pixels": 100_000_000},
            memory_mb=200,
            seconds=60,
        )
    assert caught.value.code == "memory"


def test_a_position_block_with_its_version_alone_is_no_position(tmp_path: Path) -> None:
    """Exif 2.32, 4.6.6: tag 0 is the version of the block. Cameras without a receiver write it all the same."""
    exif = Image.Exif()
    exif.get_ifd(0x8825)[0] = b"\x02\x03\x00\x00"
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, "JPEG", exif=exif)
    found = seen(tmp_path, out.getvalue())
    assert isinstance(found, Picture) and not found.position
    assert found.sha256 and Image.open(io.BytesIO(out.getvalue())).getexif().get_ifd(0x8825)
