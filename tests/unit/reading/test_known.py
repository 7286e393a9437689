"""What history knows of a sealed act, however the folder treats it: the table of the assessment model, section 2.

Every row is a real repository in a temporary folder.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.workshops import RECORD, commit_all, make, seal_by_hand
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Record
from witnessmark.records.world import Act, Held, Workshop

PATH = "evidence/vehicles/van-07/records/isolation.yaml"
SEALED = seal_by_hand(RECORD, "7k4qxm")


def _known(root: Path) -> Workshop:
    return read_workshop(root, use_cache=False)


def _one(root: Path, code: str = "7k4qxm") -> Act:
    found = [act for act in _known(root).acts if act.code == code]
    assert len(found) == 1, found
    return found[0]


def _workshop(root: Path) -> Path:
    make(root, {PATH: SEALED})
    commit_all(root)
    return root


def _edit(root: Path) -> None:
    (root / PATH).write_text(SEALED.replace("5.2 MΩ", "9.2 MΩ"), encoding="utf-8")


def _unseal(root: Path) -> None:
    (root / PATH).write_text(RECORD.replace("format: 1", "format: 1\ncode: 7k4qxm"), encoding="utf-8")


def _spoil(root: Path) -> None:
    (root / PATH).write_text(SEALED + "  : [", encoding="utf-8")


def _double(root: Path) -> None:
    (root / PATH).with_name("copy.yaml").write_text(SEALED, encoding="utf-8")


def _delete(root: Path) -> None:
    (root / PATH).unlink()


def _rename(root: Path) -> None:
    (root / PATH).rename((root / PATH).with_name("another-name.yaml"))


def _comment(root: Path) -> None:
    (root / PATH).write_text("# looked at again\n" + SEALED, encoding="utf-8")


def _to_another_vehicle(root: Path) -> None:
    make(root, {"evidence/vehicles/van-08/vehicle.yaml": "format: 1\ntitle: B\nfile_number: SEC-08\nissue: A\n"})
    target = root / "evidence/vehicles/van-08/records/isolation.yaml"
    target.parent.mkdir(parents=True)
    (root / PATH).rename(target)


def _out_of_every_vehicle(root: Path) -> None:
    (root / PATH).rename(root / "evidence/isolation.yaml")


ROWS: tuple[tuple[str, Callable[[Path], None], Held], ...] = (
    ("edited", _edit, Held.EDITED),
    ("unsealed", _unseal, Held.UNSEALED),
    ("edited until it cannot be read", _spoil, Held.EDITED),
    ("doubled", _double, Held.DOUBLED),
    ("deleted", _delete, Held.MISSING),
    ("moved to another vehicle", _to_another_vehicle, Held.MISPLACED),
    ("moved out of every vehicle", _out_of_every_vehicle, Held.MISPLACED),
    ("renamed inside its vehicle's folder", _rename, Held.UNCHANGED),
    ("another comment: it stands outside the canonical form", _comment, Held.UNCHANGED),
)


@pytest.mark.parametrize("committed", [False, True], ids=["in the folder", "and committed"])
@pytest.mark.parametrize(("what", "change", "held"), ROWS, ids=[row[0] for row in ROWS])
def test_what_happens_to_a_known_file(
    tmp_path: Path, what: str, change: Callable[[Path], None], held: Held, committed: bool
) -> None:
    root = _workshop(tmp_path)
    before = _one(root)
    assert before.held is Held.UNCHANGED
    change(root)
    if committed:
        commit_all(root, when="2026-10-16T08:00:00+02:00")
    after = _one(root)
    assert after.held is held, what
    # The first committed text is the thing, whatever the folder says now.
    assert after.tree == before.tree
    assert after.body == before.body
    assert after.appeared == before.appeared is not None
    assert after.by_commit == before.by_commit


def test_put_back_byte_for_byte_it_is_unchanged_again(tmp_path: Path) -> None:
    root = _workshop(tmp_path)
    _edit(root)
    commit_all(root)
    assert _one(root).held is Held.EDITED
    (root / PATH).write_text(SEALED, encoding="utf-8")
    assert _one(root).held is Held.UNCHANGED
    commit_all(root)
    assert _one(root).held is Held.UNCHANGED
    assert not _one(root).clash


def test_a_draft_counts_for_nothing_committed_or_not(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: RECORD})
    commit_all(root)
    workshop = _known(root)
    assert workshop.acts == ()
    assert PATH in [draft.path for draft in workshop.drafts]


def test_sealed_and_not_committed_is_there_but_has_not_appeared(tmp_path: Path) -> None:
    root = make(tmp_path)
    commit_all(root)
    make(root, {PATH: SEALED})
    act = _one(root)
    assert act.appeared is None
    assert act.held is Held.UNCHANGED
    assert act.seal_holds


def test_without_a_repository_nothing_has_appeared(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: SEALED})
    assert _one(root).appeared is None
    assert [p.code for p in _known(root).problems] == ["git.none"]


def test_order_of_appearance_is_that_of_commits_and_within_one_that_of_sealing(tmp_path: Path) -> None:
    records = "evidence/vehicles/van-07/records/"
    later = seal_by_hand(RECORD, "aaaaaa", on="2026-10-14T19:00+02:00")
    earlier = seal_by_hand(RECORD, "zzzzzz", on="2026-10-14T18:30+02:00")
    first = seal_by_hand(RECORD, "mmmmmm", on="2026-10-14T20:00+02:00")
    root = make(tmp_path, {records + "m.yaml": first})
    commit_all(root)
    make(root, {records + "a.yaml": later, records + "z.yaml": earlier})
    commit_all(root, when="2026-10-16T08:00:00+02:00")
    acts = _known(root).acts
    assert [(act.code, act.appeared) for act in acts] == [("mmmmmm", 0), ("zzzzzz", 1), ("aaaaaa", 2)]


def test_one_code_with_two_texts_on_two_branches_is_a_clash(tmp_path: Path) -> None:
    """Nobody can say which was first: both are given."""
    root = make(tmp_path)
    commit_all(root)

    def git(*arguments: str) -> None:
        subprocess.run(
            ["git", "-c", "user.name=T", "-c", "user.email=t@example.invalid", *arguments],
            cwd=root,
            check=True,
            capture_output=True,
        )

    git("checkout", "-q", "-b", "one")
    make(root, {PATH: seal_by_hand(RECORD, "7k4qxm")})
    commit_all(root, "one")
    git("checkout", "-q", "main")
    git("checkout", "-q", "-b", "two")
    other = RECORD.replace("5.2 MΩ", "0.2 MΩ")
    make(root, {"evidence/vehicles/van-07/records/other.yaml": seal_by_hand(other, "7k4qxm")})
    commit_all(root, "two")
    git("merge", "-q", "-m", "both", "one")
    acts = [act for act in _known(root).acts if act.code == "7k4qxm"]
    assert len(acts) == 2
    assert all(act.clash for act in acts)
    readings = {act.body.readings["resistance"] for act in acts if isinstance(act.body, Record)}
    assert readings == {"5.2 MΩ", "0.2 MΩ"}


def test_an_edit_on_a_line_of_history_is_no_clash(tmp_path: Path) -> None:
    root = _workshop(tmp_path)
    _edit(root)
    commit_all(root)
    assert not _one(root).clash


def test_a_seal_that_does_not_fit_its_text(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: SEALED.replace("5.2 MΩ", "9.2 MΩ")})
    commit_all(root)
    assert not _one(root).seal_holds


def test_a_pinned_demonstration_asks_no_history(tmp_path: Path) -> None:
    pinned = (
        "format: 1\nname: A\nplace: B\nzone: Europe/Stockholm\ndemonstration: {as_of: 2026-11-24, notice: Invented.}\n"
    )
    late = seal_by_hand(RECORD, "aaaaaa", on="2026-10-14T19:00+02:00")
    root = make(
        tmp_path, {"evidence/workshop.yaml": pinned, PATH: late, "evidence/vehicles/van-07/records/z.yaml": SEALED}
    )
    workshop = _known(root)
    assert not workshop.history.consulted
    assert [(act.code, act.appeared) for act in workshop.acts] == [("7k4qxm", 0), ("aaaaaa", 1)]
    assert workshop.as_of.isoformat() == "2026-11-24T23:59:59+01:00"
    assert workshop.problems == ()
