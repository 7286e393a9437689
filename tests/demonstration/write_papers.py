"""Writes the invented papers of the demonstration as PDF files, from `papers.yaml`: the same bytes every time.

    python -m tests.demonstration.write_papers

A page of a standard font and no more, written by hand, so that nothing of a library's clock or version gets in.
"""

from __future__ import annotations

from pathlib import Path

import yaml

ROOT = Path(__file__).resolve().parents[2]
NOTICE = "Invented for the demonstration. No such firm, office, vehicle or test exists."


def _text(line: str) -> bytes:
    """A line in the encoding that the font is declared with."""
    raw = line.encode("cp1252")
    return raw.replace(b"\\", b"\\\\").replace(b"(", b"\\(").replace(b")", b"\\)")


def paper(title: str, lines: list[str]) -> bytes:
    """One A4 page with a title, lines, and the notice that all of it is invented."""
    out = [b"BT /F2 15 Tf 60 770 Td (" + _text(title) + b") Tj ET"]
    y = 730
    for line in lines:
        out.append(b"BT /F1 11 Tf 60 %d Td (" % y + _text(line) + b") Tj ET")
        y -= 20
    out.append(b"0.5 w 60 96 m 535 96 l S")
    out.append(b"BT /F2 10 Tf 60 78 Td (" + _text(NOTICE) + b") Tj ET")
    content = b"\n".join(out)
    font = b"<< /Type /Font /Subtype /Type1 /BaseFont /%s /Encoding /WinAnsiEncoding >>"
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R"
        b" /Resources << /Font << /F1 5 0 R /F2 6 0 R >> >> >>",
        b"<< /Length %d >>\nstream\n" % len(content) + content + b"\nendstream",
        font % b"Helvetica",
        font % b"Helvetica-Bold",
    ]
    data = b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n"
    offsets = []
    for number, body in enumerate(objects, start=1):
        offsets.append(len(data))
        data += b"%d 0 obj\n" % number + body + b"\nendobj\n"
    table = len(data)
    data += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    data += b"".join(b"%010d 00000 n \n" % offset for offset in offsets)
    data += b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, table)
    return data


def papers() -> dict[str, bytes]:
    """Path from the root, and bytes, of every paper."""
    table = yaml.load((Path(__file__).parent / "papers.yaml").read_text(encoding="utf-8"), yaml.BaseLoader)
    return {row["file"]: paper(row["title"], row["lines"]) for row in table}


def main() -> None:
    for name, data in papers().items():
        path = ROOT / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


if __name__ == "__main__":
    main()
