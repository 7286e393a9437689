"""Freezing: what it refuses, what it writes, and that the same commit gives the same bag."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
from pathlib import Path

import bagit
import jsonschema
import pytest

from tests.recording.shop import RECORD_TREE, shop
from tests.workshops import seal_by_hand
from witnessmark.problems import Misuse
from witnessmark.reading.check import check
from witnessmark.release.freeze import Frozen, freeze

from .yard import BASE, NOW, REASON, frozen, git, record, request, without_document, yard


def refused(root: Path, issue: str = "A", **more: object) -> set[str]:
    """Codes of the reasons; and nothing was written."""
    before = git(root, "rev-parse", "HEAD"), git(root, "status", "--porcelain", "--ignored")
    with without_document(), pytest.raises(Misuse) as caught:
        frozen(root, issue, **more)
    assert (git(root, "rev-parse", "HEAD"), git(root, "status", "--porcelain", "--ignored")) == before
    return {p.code for p in caught.value.problems}


@pytest.fixture
def copy(quickly: Frozen, tmp_path: Path) -> Path:
    """The workshop with issue A frozen."""
    return Path(shutil.copytree(quickly.folder.parents[2], tmp_path / "yard"))


def test_a_public_library_and_sha256sum_find_the_bag_whole(released: Frozen) -> None:
    """bagit 1.9 (the Library of Congress's) and coreutils know nothing of this program."""
    bag = released.folder / "bag"
    assert bagit.Bag(str(bag)).is_valid()
    for name in ("tagmanifest-sha256.txt", "manifest-sha256.txt"):
        done = subprocess.run(
            ["sha256sum", "-c", "--quiet", name], cwd=bag, capture_output=True, text=True, check=False
        )
        assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    digest = subprocess.run(
        ["sha256sum", "tagmanifest-sha256.txt"], cwd=bag, capture_output=True, text=True, check=True
    )
    assert released.manifest == f"sha256:{digest.stdout.split()[0]}"


def test_everything_of_an_issue_is_there(released: Frozen) -> None:
    root = released.folder.parents[2]
    data = released.folder / "bag" / "data"
    for name in ("documents/technical-file.pdf", "documents/html/index.html", "results/states.json", "tool/lock.txt",
                 "history.bundle", "readings.csv", "release.schema.json"):  # fmt: skip
        assert (data / name).stat().st_size > 0, name
    assert (released.folder / "technical-file.pdf").read_bytes() == (data / "documents/technical-file.pdf").read_bytes()
    said = json.loads((data / "release.json").read_text(encoding="utf-8"))
    jsonschema.validate(said, json.loads((data / "release.schema.json").read_text(encoding="utf-8")))
    assert said["commit"] == git(root, "rev-parse", "HEAD~1")
    assert said["methods"]["insulation-tester/1"].startswith("sha256:")
    cover = (released.folder / "html" / "index.html").read_text(encoding="utf-8")
    assert "Issue A is released with one gap and one requirement whose limits nobody has compared" in cover
    assert REASON[1:] in cover and "DRAFT" not in cover
    # The history, by git itself.
    git(root, "clone", "-q", "-b", "main", str(data / "history.bundle"), str(root.parent / "clone"))
    assert git(root.parent / "clone", "rev-parse", "HEAD") == said["commit"]
    inputs = {p.relative_to(data / "inputs").as_posix(): p.read_bytes() for p in (data / "inputs").rglob("*.yaml")}
    assert len(inputs) > 10
    assert all((root.parent / "clone" / name).read_bytes() == content for name, content in inputs.items())


def test_the_release_is_sealed_committed_and_tagged(released: Frozen) -> None:
    root = released.folder.parents[2]
    assert git(root, "status", "--porcelain") == ""
    assert git(root, "diff", "--name-only", "HEAD~1", "HEAD") == f"{BASE}/releases/A.yaml"
    assert git(root, "cat-file", "-t", "van-07/A") == "tag"
    message = git(root, "for-each-ref", "--format=%(contents)", "refs/tags/van-07/A")
    assert f"manifest {released.manifest}" in message
    assert git(root, "rev-parse", "van-07/A^{commit}") == released.release.commit
    assert released.manifest in (root / BASE / "releases/A.yaml").read_text(encoding="utf-8")
    assert git(root, "fsck", "--strict") == ""
    assert [p for p in check(root, use_cache=False, clock=lambda: NOW) if p.severity == "problem"] == []


def test_the_readings_as_a_table(quickly: Frozen) -> None:
    with (quickly.folder / "bag/data/readings.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["quantity"]: row for row in csv.DictReader(file)}
    row = rows["resistance"]
    assert (row["vehicle"], row["part"], row["method"]) == ("van-07", "traction-bus", "insulation-tester/1")
    assert (row["value"], row["unit"], row["instrument"]) == ("5.2", "MΩ", "mega-01")
    # By hand, JCGM 100, 4.3.7: half-widths 3 % of 5.2 MΩ plus two digits of 0.01 MΩ; rectangular, k = 2.
    assert float(row["U"]) == pytest.approx(2 * (0.03 * 5.2 + 2 * 0.01) / 3**0.5, rel=0.02)


def test_the_same_commit_gives_the_same_bag(quickly: Frozen, tmp_path: Path) -> None:
    """In another place, packed by git, and at another hour."""
    root = Path(shutil.copytree(quickly.folder.parents[2], tmp_path / "elsewhere"))
    git(root, "tag", "-d", "van-07/A")
    git(root, "reset", "-q", "--hard", "HEAD~1")
    git(root, "reflog", "expire", "--expire=now", "--all")
    git(root, "update-ref", "-d", "ORIG_HEAD")
    git(root, "gc", "-q", "--prune=now")
    shutil.rmtree(root / "builds")
    with without_document():
        again = freeze(root, request(), clock=lambda: NOW.replace(hour=9))
    assert again.manifest == quickly.manifest


def test_refused_without_a_reason_for_gaps(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    assert refused(root, with_gaps=None) == {"freeze.gaps", "freeze.unconfirmed"}
    assert refused(root, with_gaps=None, by="nobody") >= {"person.unknown", "freeze.gaps"}
    assert refused(root, "B") == {"freeze.order"}
    assert refused(root, "I") == {"freeze.letter"}
    assert refused(root, why="no reason") == {"freeze.why"}
    assert refused(root, second="jm") == {"freeze.second"}
    assert refused(root, with_gaps="so " * 101) == {"freeze.reason"}
    assert refused(root, as_of=NOW.date().replace(year=2027)) >= {"freeze.ahead"}
    (root / "builds" / "van-07" / "A").mkdir(parents=True)
    git(root, "tag", "-a", "-m", "mine", "van-07/A")
    assert refused(root) == {"freeze.taken", "freeze.tag"}


def test_refused_while_anything_of_the_vehicle_is_not_committed(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    (root / BASE / "photos").mkdir()
    (root / BASE / "photos" / "new.jpg").write_bytes(b"not recorded yet")
    path = root / BASE / "records" / "isolation.yaml"
    path.write_text(path.read_text(encoding="utf-8") + "# a remark\n", encoding="utf-8")
    with pytest.raises(Misuse) as caught:
        frozen(root)
    assert [(p.code, p.place.file if p.place else "") for p in caught.value.problems] == [
        ("freeze.uncommitted", f"{BASE}/photos/new.jpg"),
        ("freeze.uncommitted", f"{BASE}/records/isolation.yaml"),
    ]


def test_refused_while_a_committed_draft_lies_there(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    draft = "format: 1\nshows: {isolation/value: {}}\nperformed: 2026-10-14T16:20+02:00\nby: {tester: jm}\n"
    (root / BASE / "records" / "later.yaml").write_text(draft, encoding="utf-8")
    git(root, "add", "-A")
    git(root, "-c", "user.name=x", "-c", "user.email=x", "commit", "-qm", "A draft")
    assert refused(root) >= {"freeze.draft"}


def test_an_edited_sealed_file_never_helps(tmp_path: Path) -> None:
    """A reading changed in a sealed file and committed: the release says that the requirement is not shown."""
    root = yard(tmp_path / "yard")
    path = root / BASE / "records" / "isolation.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("5.2 MΩ", "9.9 MΩ"), encoding="utf-8")
    git(root, "-c", "user.name=x", "-c", "user.email=x", "commit", "-qam", "Nobody will see")
    with without_document():
        done = frozen(root)
    said = json.loads((done.folder / "bag/data/results/states.json").read_text("utf-8"))
    assert said["requirements"][0]["state"] in ("lapsed", "not-shown")


def test_a_rewritten_history_is_not_frozen(tmp_path: Path) -> None:
    """A failed reading taken out of the history: git's own log still knows of it."""
    root = yard(tmp_path / "yard")
    record(root, "bad", {"readings": {"test_voltage": "500 V", "resistance": "0.2 MΩ"}})
    git(root, "reset", "-q", "--hard", "HEAD~1")
    assert "git.rewritten" in refused(root)


def test_four_eyes_when_the_policy_says_so(tmp_path: Path) -> None:
    root = shop(tmp_path / "yard")
    policy = (
        "format: 1\npolicy: {decision_rule: {rule: guarded}, four_eyes_release: yes}\nin_force: 2026-02-12\nby: jm\n"
    )
    path = root / "evidence/policy/2026-02.yaml"
    path.write_text(seal_by_hand(policy, "pqwcy3", on="2026-10-02T10:00+02:00", vehicle=None), encoding="utf-8")
    git(root, "add", "-A")
    git(root, "-c", "user.name=x", "-c", "user.email=x", "commit", "-qm", "Policy")
    assert refused(root) == {"freeze.four-eyes"}
    with without_document():
        assert frozen(root, second="ao").release.second is not None


def test_issue_b_names_a_and_says_what_changed(copy: Path) -> None:
    assert refused(copy) >= {"freeze.exists", "freeze.taken", "freeze.tag"}
    assert refused(copy, "C", why="x") == {"freeze.order"}
    assert refused(copy, "B") == {"freeze.why"}
    readings = {**RECORD_TREE["readings"], "resistance": "0.4 MΩ"}  # type: ignore[dict-item]  # a tree of mappings
    code = record(copy, "again", {"readings": readings, "performed": "2026-10-14T17:00+02:00"})
    done = frozen(copy, "B", why="the bus was measured again")
    assert done.release.previous is not None and done.release.previous.issue == "A"
    page = (done.folder / "html" / "changes.html").read_text(encoding="utf-8")
    assert "What changed since issue A" in page and "The bus was measured again." in page
    assert code in page and "nonconforming" in page and "J. Marram" in page
    with without_document():
        assert refused(copy, "C", why="x", with_gaps=None) >= {"freeze.gaps"}


def test_the_pinned_demonstration_is_not_frozen() -> None:
    root = Path(__file__).parents[2]
    with pytest.raises(Misuse) as caught:
        freeze(root, request())
    assert caught.value.problems[0].code == "freeze.demonstration"


def test_a_signed_tag(tmp_path: Path) -> None:
    """`git verify-tag` and ssh-keygen find the signature good."""
    root = yard(tmp_path / "yard")
    key = tmp_path / "key"
    made = shutil.which("ssh-keygen")
    if made is None:
        assert refused(root, sign_with=key) == {"sign.program"}
        return
    subprocess.run([made, "-q", "-t", "ed25519", "-N", "", "-C", "", "-f", str(key)], check=True)
    with without_document():
        frozen(root, sign_with=key)
    allowed = tmp_path / "allowed"
    allowed.write_text("jm@x " + key.with_suffix(".pub").read_text("utf-8"), encoding="utf-8")
    git(root, "-c", f"gpg.ssh.allowedSignersFile={allowed}", "verify-tag", "van-07/A")
