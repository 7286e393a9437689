"""The child may compute and nothing else: each way out is tried for real."""

from __future__ import annotations

import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from witnessmark.confined import ConfinedFault, Session, call

TARGETS = """
import os, sys

def echo(value): return value
def noise(value): print("to stdout"); os.write(1, b"raw"); return value
def about(_): return [dict(os.environ), os.getcwd(), hash("a"), sys.flags.safe_path, sys.flags.no_user_site]
def no_json(_): return {1, 2}
def not_finite(_): return float("nan")
def fail(_): raise ValueError("what was wrong")
def leave(_): sys.exit(3)
def abort(_): os.abort()
def memory(_): return len(bytearray(3_000_000_000))
def eternal(_):
    while True: pass
def sleep(_):
    import time; time.sleep(60)
def socket_(_):
    import socket; socket.socket()
def lookup(_):
    import socket; socket.getaddrinfo("example.org", 80)
def url(_):
    import urllib.request; urllib.request.urlopen("http://127.0.0.1:9/")
def program(_):
    import subprocess; subprocess.run(["true"])
def system(_): os.system("true")
def spawn(_): os.posix_spawn("/bin/true", ["true"], {})
def replace(_): os.execv("/bin/true", ["true"])
def fork(_): os.fork()
def pool(_):
    import multiprocessing
    multiprocessing.get_context("fork").Process(target=print).start()
def library(_):
    import ctypes; ctypes.CDLL("libc.so.6")
def symbol(_):
    import ctypes; ctypes.CDLL(None).system(b"true")
def kill(_): os.kill(os.getppid(), 0)
def write(path): open(path, "w").write("x")
def write_low(path): os.close(os.open(path, os.O_WRONLY | os.O_CREAT))
def remove(path): os.remove(path)
def rename(paths): os.rename(*paths)
def read(path): return open(path).read()
def foreign(folder): sys.path.insert(0, folder); import theirs
def run_file(path): exec(compile(open(path).read(), path, "exec"), {})
def interfaces(_): return [line.split(":")[0].strip() for line in open("/proc/self/net/dev") if ":" in line]
def limits(_):
    import resource; return [resource.getrlimit(resource.RLIMIT_CORE)[1], resource.getrlimit(resource.RLIMIT_AS)[1]]
def libraries(_):
    import jinja2, numpy, polars, sphinx.application, typst
    from PIL import Image
    total = polars.read_csv(b"a,b\\n1,2\\n3,4\\n")["a"].to_numpy().sum()
    return [int(total), len(typst.compile(b"$x^2$")) > 1000, Image.new("L", (2, 2)).size[0]]
"""


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, Path, Path, Session]]:
    """Our code, their folder, a place to write; and one child for the quick cases."""
    base = tmp_path_factory.mktemp("confined")
    code, theirs, out = base / "code", base / "theirs", base / "out"
    for folder in (code, theirs, out):
        folder.mkdir()
    (code / "confined_targets.py").write_text(TARGETS)
    (theirs / "theirs.py").write_text("RAN = True\n")
    (theirs / "data.txt").write_text("data")
    with Session(readable=[theirs], writable=[out], code=[code], cwd=theirs, memory_mb=1500) as session:
        yield code, theirs, out, session


def ask(session: Session, name: str, argument: Any = None, seconds: float = 30) -> Any:
    return session.call(f"confined_targets:{name}", argument, seconds=seconds)


def fault(session: Session, name: str, argument: Any = None, seconds: float = 30) -> ConfinedFault:
    with pytest.raises(ConfinedFault) as caught:
        ask(session, name, argument, seconds)
    assert caught.value.detail
    return caught.value


def test_values_come_back(folders: tuple[Path, Path, Path, Session]) -> None:
    session = folders[3]
    value = {"a": [1, 2.5, None, True, "é 🔋"], "b": {}}
    assert ask(session, "echo", value) == value
    assert ask(session, "noise", 7) == 7
    assert ask(session, "echo", "x" * 3_000_000) == "x" * 3_000_000


def test_the_environment_is_ours(folders: tuple[Path, Path, Path, Session], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SECRET_TOKEN", "x")
    monkeypatch.setenv("PYTHONPATH", "/nowhere")
    code, theirs = folders[0], folders[1]
    with Session(code=[code], cwd=theirs, epoch=1760400000) as session:
        environment, folder, first, safe, no_user = ask(session, "about")
    with Session(code=[code], cwd=theirs) as session:
        second = ask(session, "about")[2]
    assert set(environment) <= {
        "LC_ALL", "TZ", "PYTHONHASHSEED", "SOURCE_DATE_EPOCH", "POLARS_MAX_THREADS", "POLARS_SKIP_CPU_CHECK",
        "RAYON_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "TMPDIR", "TEMP", "TMP", "SYSTEMROOT",
    }  # fmt: skip
    assert (environment["TZ"], environment["LC_ALL"]) == ("UTC", "C.UTF-8")
    assert environment["SOURCE_DATE_EPOCH"] == "1760400000"
    assert folder == str(theirs)
    assert first == second, "the order of sets would change from run to run"
    assert safe
    assert no_user


@pytest.mark.parametrize(
    "name",
    ["socket_", "lookup", "url", "program", "system", "spawn", "replace", "fork", "pool", "library", "symbol", "kill"],
)
def test_ways_out_are_refused(folders: tuple[Path, Path, Path, Session], name: str) -> None:
    assert fault(folders[3], name).code == "refused"


def test_files_only_where_allowed(folders: tuple[Path, Path, Path, Session]) -> None:
    code, theirs, out, session = folders
    outside = code.parent / "outside.txt"
    outside.write_text("secret")
    assert ask(session, "read", str(theirs / "data.txt")) == "data"
    ask(session, "write", str(out / "made.txt"))
    assert (out / "made.txt").read_text() == "x"
    home = Path.home() / "witnessmark-must-not-be-there"
    for name, argument in (
        ("read", "/etc/passwd"),
        ("write", str(home)),
        ("write_low", str(home)),
        ("remove", "/etc/hostname"),
        ("rename", [str(out / "made.txt"), str(home)]),
    ):
        assert fault(session, name, argument).code == "refused"
    assert not home.exists()
    (theirs / "link.txt").symlink_to("/etc/passwd")
    assert fault(session, "read", str(theirs / "link.txt")).code == "refused"


def test_code_of_theirs_is_not_run(folders: tuple[Path, Path, Path, Session]) -> None:
    _, theirs, _, session = folders
    assert fault(session, "run_file", str(theirs / "theirs.py")).code == "refused"
    assert fault(session, "foreign", str(theirs)).code == "refused"
    session.close()  # The search path of that child is spoilt.


@pytest.mark.parametrize(
    ("name", "code"), [("no_json", "crash"), ("not_finite", "crash"), ("fail", "crash"), ("leave", "crash"),
                       ("abort", "crash"), ("memory", "memory")]
)  # fmt: skip
def test_faults_have_a_code_and_the_next_call_works(
    folders: tuple[Path, Path, Path, Session], name: str, code: str
) -> None:
    session = folders[3]
    found = fault(session, name)
    assert found.code == code
    if name == "fail":
        assert "what was wrong" in found.detail
        assert "fail" in found.errors
    assert ask(session, "echo", 1) == 1


@pytest.mark.parametrize("name", ["eternal", "sleep"])
def test_time(folders: tuple[Path, Path, Path, Session], name: str) -> None:
    session = folders[3]
    start = time.perf_counter()
    assert fault(session, name, seconds=1).code == "time"
    assert time.perf_counter() - start < 8
    assert ask(session, "echo", 1) == 1


def test_unknown_target(folders: tuple[Path, Path, Path, Session]) -> None:
    assert fault(folders[3], "not_there").code == "crash"
    with pytest.raises(ValueError):
        call("no_colon", None)


def test_no_network_and_limits(folders: tuple[Path, Path, Path, Session]) -> None:
    with Session(code=[folders[0]], memory_mb=700) as session:
        core, space = ask(session, "limits")
        assert (core, space) == (0, 700 * 1024 * 1024)
        # Not every machine lets a program leave the network; where `unshare` may, we must.
        if shutil.which("unshare") and subprocess.run(["unshare", "-rn", "true"], capture_output=True).returncode == 0:
            assert ask(session, "interfaces") == ["lo"]


def test_the_libraries_work_under_it(folders: tuple[Path, Path, Path, Session]) -> None:
    with Session(code=[folders[0]], readable=[folders[1]]) as session:
        assert ask(session, "libraries", seconds=120) == [4, True, 2]
