"""A file is put in place whole or not at all, whatever happens meanwhile."""

import os
import stat
import subprocess
import sys

import pytest
from clockhop.whole import put

# Children write without end and are killed at any moment; the parent looks at what they left. In a process of its own,
# which has no threads that a fork would cut off.
KILLER = """
import os, random, signal, sys
from pathlib import Path
from clockhop.whole import put

old, new = b"old\\n" * 40_000, b"newer\\n" * 50_000
target = Path("main.asm")
put(target, old)
seen, stray = set(), 0
for number in range(300):
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        while True:
            put(target, new)
            os.write(tell, b".")
            put(target, old)
            os.write(tell, b".")
    # Somewhere in the first four, however slow the machine is.
    for _ in range(random.randrange(4)):
        os.read(told, 1)
    for _ in range(random.randrange(20_000)):
        pass
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    os.close(told)
    os.close(tell)
    found = target.read_bytes()
    assert found in (old, new), (number, len(found))
    seen.add(found[:3])
    stray += len(os.listdir()) - 1
put(target, new)
print(len(seen), os.listdir(), stray, file=sys.stdout)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
def test_killed_300_times_at_any_moment_the_file_is_old_or_new_and_nothing_lies_about(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", KILLER], cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False
    )
    assert done.stderr == ""
    seen, *rest = done.stdout.split()
    assert seen == "2"
    assert rest[0] == "['main.asm']"


def test_permissions_and_owner_stay_and_a_new_file_has_those_of_its_kind(tmp_path):
    path = tmp_path / "main.asm"
    before = os.umask(0o027)
    try:
        put(path, b" NOP\n")
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    path.chmod(0o604)
    if os.geteuid() == 0:
        os.chown(path, 12, 34)
    owner = (path.stat().st_uid, path.stat().st_gid)
    put(path, b" RTS\n")
    assert path.read_bytes() == b" RTS\n"
    assert stat.S_IMODE(path.stat().st_mode) == 0o604
    assert (path.stat().st_uid, path.stat().st_gid) == owner


def test_a_link_stays_a_link_and_a_pipe_is_written_to(tmp_path):
    (tmp_path / "src").mkdir()
    (tmp_path / "src/main.asm").write_bytes(b" NOP\n")
    (tmp_path / "main.asm").symlink_to("src/main.asm")
    put(tmp_path / "main.asm", b" RTS\n")
    assert (tmp_path / "main.asm").is_symlink()
    assert (tmp_path / "src/main.asm").read_bytes() == b" RTS\n"

    os.mkfifo(tmp_path / "pipe")
    reader = os.open(tmp_path / "pipe", os.O_RDONLY | os.O_NONBLOCK)
    put(tmp_path / "pipe", b"findings: none\n")
    assert os.read(reader, 100) == b"findings: none\n"
    os.close(reader)
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)


def test_what_a_killed_run_left_is_taken_and_a_planted_link_is_not_followed(tmp_path):
    path, safe = tmp_path / "main.asm", tmp_path / "safe.txt"
    safe.write_bytes(b"safe\n")
    names = []
    put(
        path,
        b" NOP\n",
        last=lambda: names.extend(each for each in tmp_path.iterdir() if each not in (path, safe)),
    )
    (name,) = names
    for leave in (lambda: name.write_bytes(b" half"), lambda: name.symlink_to("safe.txt")):
        leave()
        put(path, b" RTS\n")
        assert sorted(tmp_path.iterdir()) == [path, safe]
        assert (path.read_bytes(), safe.read_bytes()) == (b" RTS\n", b"safe\n")


def test_without_files_that_have_no_name_it_is_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr("os.path.isdir", lambda _: False)
    path = tmp_path / "main.asm"
    put(path, b" NOP\n")
    path.chmod(0o640)
    put(path, b" RTS\n")
    assert (path.read_bytes(), stat.S_IMODE(path.stat().st_mode)) == (b" RTS\n", 0o640)

    def refuse() -> None:
        raise OSError("changed")

    with pytest.raises(OSError, match="changed"):
        put(path, b" MUL\n", last=refuse)
    assert [(each.name, each.read_bytes()) for each in tmp_path.iterdir()] == [("main.asm", b" RTS\n")]
