"""README.txt of a bag: how somebody who has never heard of this program checks it and reads it."""

from __future__ import annotations

from .file import ReleaseFile

__all__ = ["readme"]


def readme(release: ReleaseFile) -> str:
    """Plain text, at most 79 columns where the words are ours."""
    lines = [
        f"{release.title}",
        f"Technical file {release.file_number}, issue {release.issue}, as of {release.as_of}",
        f"{release.workshop.name}, {release.workshop.place}",
        "",
    ]
    if release.demonstration:
        lines += [release.demonstration, ""]
    lines += [*_state(release), "", *_CHECK, "", *_FOLDERS, "", *_CSV, "", *_HISTORY, "", *_TOOL, "", *_CAUTION]
    program = f"Made with {release.tool.name} {release.tool.version}, source {release.tool.digest}."
    return "\n".join([*lines, "", program, ""])


def _state(release: ReleaseFile) -> list[str]:
    gaps, unconfirmed = len(release.gaps), len(release.unconfirmed)
    lines = [
        f"{release.requirements} requirements were assessed:",
        *(f"{number:>8} {state.replace('-', ' ')}" for state, number in release.states.items() if number),
        f"So {gaps} stand in the way. The limits of {unconfirmed} nobody has compared with an",
        "official text or adopted by name. data/release.json names each of them.",
        *([f"{len(release.fields)} fields of the authority's forms are empty."] if release.fields else []),
    ]
    if release.with_gaps:
        lines += [f"Released all the same, because: {release.with_gaps}"]
    second = f", with {release.second.name}" if release.second else ""
    lines += [f"Frozen by {release.by.name}{second}."]
    if release.previous:
        lines += [f"It takes the place of issue {release.previous.issue}. Why: {release.why}"]
    return lines


_CHECK = [
    "IS EVERYTHING HERE, AND UNCHANGED?",
    "Go into this folder and type:",
    "    sha256sum -c --quiet tagmanifest-sha256.txt",
    "    sha256sum -c --quiet manifest-sha256.txt",
    "No output means that every listed file is as it was released. On a Mac:",
    "shasum -a 256 -c FILE. On Windows: certutil -hashfile FILE SHA256 shows one",
    "file's digest, to be compared with its line.",
    "Then compare the digest of tagmanifest-sha256.txt itself with the one that the",
    "workshop gave you by another way (on paper, by telephone):",
    "    sha256sum tagmanifest-sha256.txt",
    "It covers everything. Whoever changes a file and all digests after it cannot",
    "keep this one. The two lists do not see files that were added: there must be",
    "nothing beside what they name. This is a bag after RFC 8493 (BagIt 1.0).",
]
_FOLDERS = [
    "WHAT IS WHERE",
    "data/documents/technical-file.pdf   the technical file: begin here",
    "data/documents/html/index.html      the same for a browser, without a network",
    "data/inputs/                        everything that was written down: records,",
    "                                    photographs, logs, reports, certificates",
    "                                    (evidence/), the rules (requirements/)",
    "data/results/states.json            the state of every requirement and why",
    "data/results/results.json           every result with its uncertainty, its",
    "                                    intermediate figures and its verdicts",
    "data/results/built.json             parts, facts and sets of the vehicle",
    "data/readings.csv                   every reading as a table",
    "data/history.bundle                 who wrote what down when",
    "data/release.json                   what was frozen, by whom, from what",
    "data/release.schema.json            the form of that file (JSON Schema)",
    "data/tool/lock.txt                  the program's libraries, by version",
    "The files in data/inputs/ end in .yaml and are plain text: any editor shows",
    "them. A record says what it shows, which part was tested, when, by whom, with",
    "which instruments, and each reading as it was read.",
]
_CSV = [
    "READINGS.CSV",
    "One line for one reading; UTF-8, comma between, decimal point. code is the",
    "record (the same code stands in its file); quantity is what was read, repeat",
    "counts readings of the same thing; U is the expanded uncertainty of the reading",
    "in the same unit, with its coverage factor k (empty: not known); instrument is",
    "the id of its folder in data/inputs/evidence/instruments/; as written is the",
    "text in the record.",
]
_HISTORY = [
    "THE HISTORY",
    "data/history.bundle is a git repository in one file. With git installed:",
    "    git clone -b main data/history.bundle history",
    "    cd history",
    "    git log",
    "The newest commit is the one that data/release.json names, and its files are",
    "those in data/inputs/.",
]
_TOOL = [
    "WITH THE PROGRAM",
    "Who has it can have all results computed again from the readings:",
    "    witnessmark verify .",
]
_CAUTION = [
    "CAUTION",
    "The work that these records describe can kill. They are no instruction. Local",
    "codes and qualified persons decide what may be done, how and by whom.",
    "“Conforms” is the word of the workshop; the technical service decides.",
]
