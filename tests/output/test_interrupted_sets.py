"""A set of files at the worst moments: killed before every file operation, and many builds at once."""

import ast
import os
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest

from print3d.errors import ExportError
from print3d.output.fileset import MANIFEST, file_set

OLD = {"a.stl": "old", "only_old.stl": "old"}
NEW = {"a.stl": "new", "only_new.stl": "new"}
MINE = {"notes.txt": "mine", "photos/one.txt": "mine", "photos/two.txt": "mine"}


def write(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text)


def content(folder: Path) -> dict[str, str]:
    """Return relative path -> text of every file but the list of the set."""
    return {
        path.relative_to(folder).as_posix(): path.read_text()
        for path in folder.rglob("*")
        if path.is_file() and path.name != MANIFEST
    }


def old_set_with_notes(root: Path) -> Path:
    with file_set(root, "PY-1") as folder:
        write(folder, OLD)
    write(root / "PY-1", MINE)
    return root / "PY-1"


KILL_SWEEP = """
    import contextlib, os, sys
    from pathlib import Path
    from print3d.output.fileset import file_set
    from tests.output.test_interrupted_sets import NEW, content, old_set_with_notes, write

    CHANGES = {"open", "os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.chmod", "os.utime", "os.link", "os.symlink"}

    @contextlib.contextmanager
    def in_place(root, name):
        yield root / name

    def die_before_change(number):
        left = [number]
        def hook(event, args):
            if event in CHANGES:
                left[0] -= 1
                if left[0] == 0:
                    os._exit(9)
        sys.addaudithook(hook)

    def build(writer, root):
        with writer(root, "PY-1") as folder:
            write(folder, NEW)

    def states(writer, home):
        for number in range(1, 500):
            root = home / str(number)
            old_set_with_notes(root)
            child = os.fork()
            if child == 0:
                die_before_change(number)
                build(writer, root)
                os._exit(0)
            killed = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
            seen = content(root / "PY-1") if (root / "PY-1").exists() else None
            with contextlib.suppress(ZeroDivisionError), file_set(root, "PY-1"):
                1 / 0  # the next build repairs, whatever comes of it
            print(seen, content(root / "PY-1"), sorted(path.name for path in root.iterdir() if path.is_dir()), sep="\\t")
            if not killed:
                return

    states({"file_set": file_set, "in_place": in_place}[sys.argv[1]], Path(sys.argv[2]))
"""


def killed_everywhere(writer: str, home: Path) -> list[tuple[Any, ...]]:
    """Kill a build before each of its file operations; return what was seen then, after the repair, and the folders."""
    command = [sys.executable, "-c", textwrap.dedent(KILL_SWEEP), writer, str(home)]
    ended = subprocess.run(
        command, check=True, capture_output=True, text=True, cwd=Path(__file__).parents[2], timeout=120
    )
    rows = [line.split("\t") for line in ended.stdout.splitlines()]
    return [tuple(map(ast.literal_eval, row)) for row in rows]


needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="the sweep forks")


@needs_fork
def test_killed_before_any_file_operation_it_is_the_old_set_or_the_new_one(tmp_path: Path) -> None:
    states = killed_everywhere("file_set", tmp_path)
    assert len(states) > 15
    for seen, repaired, folders in states:
        assert seen in (None, OLD | MINE, NEW | MINE)  # None: between two renames, for a moment
        assert repaired in (OLD | MINE, NEW | MINE)
        assert seen is None or seen == repaired
        assert folders == ["PY-1"]
    assert states[0][1] == OLD | MINE
    assert states[-1][1] == NEW | MINE
    assert sum(seen is None for seen, _, _ in states) <= 1


@needs_fork
def test_the_sweep_sees_the_mixture_of_a_writer_in_place(tmp_path: Path) -> None:
    """The planted fault: the same sweep on a writer that writes straight into the folder."""
    assert any(
        seen not in (None, OLD | MINE, NEW | MINE) for seen, _, _ in killed_everywhere("in_place", tmp_path)
    )


RACE = """
    import sys
    from pathlib import Path
    from print3d.errors import ExportError
    from print3d.output.fileset import file_set
    root, own = Path(sys.argv[1]), sys.argv[2]
    print("ready", flush=True)
    sys.stdin.readline()
    for _ in range(150):
        try:
            with file_set(root, "PY-1") as folder:
                for name in "abc":
                    (folder / name).write_text(own)
        except ExportError as error:
            assert "another build" in str(error), error
"""


def test_many_builds_at_once_leave_a_set_of_one_of_them(tmp_path: Path) -> None:
    command = [sys.executable, "-c", textwrap.dedent(RACE), str(tmp_path)]
    builds = [
        subprocess.Popen(
            [*command, own], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        for own in ("one", "two", "three")
    ]
    for build in builds:
        assert build.stdout is not None
        assert build.stdout.readline() == "ready\n"
    for build in builds:
        assert build.stdin is not None
        build.stdin.write("\n")
        build.stdin.flush()
    complaints = [build.communicate(timeout=60)[1] for build in builds]
    assert complaints == [""] * len(builds)
    found = content(tmp_path / "PY-1")
    assert set(found) == {"a", "b", "c"}
    assert len(set(found.values())) == 1
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == ["PY-1"]


def test_a_running_build_is_waited_for_whatever_its_folder_looks_like(tmp_path: Path) -> None:
    """Between the other build's two renames, asking what the folder is gives any answer."""
    with file_set(tmp_path, "PY-1"):
        (tmp_path / "PY-1").write_text("looks like a file")
        with pytest.raises(ExportError, match="another build"), file_set(tmp_path, "PY-1"):
            pytest.fail("must not be entered")
        (tmp_path / "PY-1").unlink()
