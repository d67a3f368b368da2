"""A folder holds the old set of files or the new one, whatever happens to the writer."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from print3d.errors import ExportError
from print3d.output.fileset import MANIFEST, file_set, part_of_file_set, refuse_unwritable

NAMES = ("a.stl", "b.stl", "c.png")


def write(folder: Path, content: str, names: Sequence[str] = NAMES) -> None:
    with file_set(folder, "PY-1") as fresh:
        for name in names:
            (fresh / name).write_text(content)


def contents(folder: Path) -> dict[str, str]:
    """Return name -> text of the set, nothing if its folder has gone."""
    return {path.name: path.read_text() for path in folder.glob("PY-1/*") if path.name != MANIFEST}


def run(script: str, *arguments: str) -> int:
    command = [sys.executable, "-c", textwrap.dedent(script), *arguments]
    return subprocess.run(command, check=False, stderr=subprocess.DEVNULL).returncode


def test_a_set_replaces_the_old_one(tmp_path: Path) -> None:
    write(tmp_path, "old", ["gone.stl", "same.stl"])
    write(tmp_path, "new", ["same.stl"])
    assert contents(tmp_path) == {"same.stl": "new"}


def test_what_the_user_put_there_is_kept(tmp_path: Path) -> None:
    write(tmp_path, "old", ["a.stl"])
    mine = tmp_path / "PY-1"
    (mine / "notes.txt").write_text("mine")
    (mine / "b.stl").write_text("mine too")  # a name that the next set needs
    (mine / "photos").mkdir()
    (mine / "photos" / "1.jpg").write_text("picture")
    (mine / "link").symlink_to("nowhere")
    for content in ("new", "newer"):
        write(tmp_path, content, ["a.stl", "b.stl"])
    assert (mine / "photos" / "1.jpg").read_text() == "picture"
    assert (mine / "link").is_symlink()
    files = {
        path.name: path.read_text() for path in mine.iterdir() if path.is_file() and path.name != MANIFEST
    }
    assert files == {"a.stl": "newer", "b.stl": "newer", "b.kept.stl": "mine too", "notes.txt": "mine"}


def test_a_folder_without_our_list_is_the_users(tmp_path: Path) -> None:
    (tmp_path / "PY-1").mkdir()
    (tmp_path / "PY-1" / "a.stl").write_text("not ours")
    write(tmp_path, "new", ["a.stl"])
    assert contents(tmp_path) == {"a.stl": "new", "a.kept.stl": "not ours"}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes in the file system here")
@pytest.mark.parametrize("place", ["pipe", "mine/pipe"])
def test_what_the_user_put_there_and_cannot_be_copied_stops_the_new_set(tmp_path: Path, place: str) -> None:
    """A pipe has no content to move on: it is told like a folder that cannot be written, and everything stays."""
    write(tmp_path, "old", ["a.stl"])
    pipe = tmp_path / "PY-1" / place
    pipe.parent.mkdir(exist_ok=True)
    os.mkfifo(pipe)
    with pytest.raises(ExportError, match="PY-1: cannot be written"):
        write(tmp_path, "new", ["a.stl"])
    assert (tmp_path / "PY-1" / "a.stl").read_text() == "old"
    assert pipe.is_fifo()
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == ["PY-1"]


def test_a_part_beside_a_set_brings_back_what_a_killed_build_left(tmp_path: Path) -> None:
    write(tmp_path, "old")
    (tmp_path / "PY-1").rename(tmp_path / ".PY-1.old")  # killed between the two renames
    with part_of_file_set(tmp_path, "PY-1", "series") as fresh:
        (fresh / "step.stl").write_text("new")
    assert {name: (tmp_path / "PY-1" / name).read_text() for name in NAMES} == dict.fromkeys(NAMES, "old")
    assert (tmp_path / "PY-1" / "series" / "step.stl").read_text() == "new"
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == ["PY-1"]


def test_a_failing_build_changes_nothing(tmp_path: Path) -> None:
    write(tmp_path, "old")

    def fail_halfway() -> None:
        with file_set(tmp_path, "PY-1") as fresh:
            (fresh / "a.stl").write_text("half")
            raise RuntimeError("in the middle")

    with pytest.raises(RuntimeError, match="in the middle"):
        fail_halfway()
    assert contents(tmp_path) == dict.fromkeys(NAMES, "old")
    assert {path.name for path in tmp_path.iterdir() if path.is_dir()} == {"PY-1"}


@pytest.mark.parametrize("error", [KeyboardInterrupt, PermissionError(13, "in use", "PY-1/.PY-1.new")])
def test_a_stop_between_the_renames_puts_the_old_set_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    write(tmp_path, "old")
    rename, calls = Path.rename, []

    def rename_once(path: Path, target: Path) -> Path:
        calls.append(target.name)
        if len(calls) == 2:
            raise error
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", rename_once)
    with pytest.raises((KeyboardInterrupt, PermissionError)):
        write(tmp_path, "new")
    assert calls == [".PY-1.old", "PY-1", "PY-1"]
    assert contents(tmp_path) == dict.fromkeys(NAMES, "old")


def test_only_errors_of_writing_here_are_about_the_folder(tmp_path: Path) -> None:
    """A missing data file of our own is a mistake of ours and must not be told as a folder that cannot be written."""

    def build(name: Path) -> None:
        with file_set(tmp_path / "out", "PY-1") as fresh:
            (fresh / name).read_text()

    with pytest.raises(FileNotFoundError):
        build(tmp_path / "elsewhere" / "font.ttf")
    with pytest.raises(ExportError, match="cannot be written"):
        build(Path("missing") / "a.stl")


@pytest.mark.parametrize(
    "name", ["../out", "/etc", "a/b", "..", ".", "", ".hidden", "a\0b", "a\\b", "a\n", "C:", "a b"]
)
def test_a_code_cannot_leave_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ExportError, match="cannot name a folder"), file_set(tmp_path / "in", name):
        pytest.fail("must not be entered")
    assert list(tmp_path.iterdir()) == []


def test_a_link_cannot_lead_out_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "PY-1").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ExportError, match="is a link"):
        write(tmp_path / "in", "new")
    assert list((tmp_path / "elsewhere").iterdir()) == []


@pytest.mark.parametrize("blocked", ["out", "out/PY-1"])
def test_a_file_in_the_way_is_told_before_anything_is_built(tmp_path: Path, blocked: str) -> None:
    (tmp_path / blocked).parent.mkdir(exist_ok=True)
    (tmp_path / blocked).write_text("mine")
    with pytest.raises(ExportError, match="PY-1"), file_set(tmp_path / "out", "PY-1"):
        pytest.fail("must not be entered")
    assert (tmp_path / blocked).read_text() == "mine"


KILLED = """
    import os, shutil, sys
    from pathlib import Path
    from print3d.output import fileset
    where, folder = sys.argv[1], Path(sys.argv[2])
    rename, rmtree, renames = Path.rename, shutil.rmtree, []
    def dying_rename(self, to):
        result = rename(self, to)
        renames.append(to)
        if len(renames) == {"between the renames": 1, "after the renames": 2}.get(where):
            os._exit(9)
        return result
    def dying_rmtree(path, **options):
        if renames and where == "while the old set is removed":
            (path / "a.stl").unlink()
            os._exit(9)
        return rmtree(path, **options)
    def dying_keep(target, fresh):
        os._exit(9)
    Path.rename, shutil.rmtree = dying_rename, dying_rmtree
    if where == "before the renames":
        fileset._keep_foreign = dying_keep
    with fileset.file_set(folder, "PY-1") as fresh:
        for name in ("a.stl", "b.stl", "c.png"):
            (fresh / name).write_text("new")
            if where == "while writing":
                os._exit(9)
"""


@pytest.mark.parametrize(
    ("where", "left"),
    [
        ("while writing", "old"),
        ("before the renames", "old"),
        ("between the renames", "old"),
        ("after the renames", "new"),
        ("while the old set is removed", "new"),
    ],
)
def test_a_killed_build_leaves_one_whole_set(tmp_path: Path, where: str, left: str) -> None:
    write(tmp_path, "old")
    (tmp_path / "PY-1" / "notes.txt").write_text("mine")
    assert run(KILLED, where, str(tmp_path)) == 9
    with (
        pytest.raises(RuntimeError),
        file_set(tmp_path, "PY-1"),
    ):  # the next build repairs, whatever comes of it
        raise RuntimeError
    assert contents(tmp_path) == {**dict.fromkeys(NAMES, left), "notes.txt": "mine"}
    assert {path.name for path in tmp_path.iterdir() if path.is_dir()} == {"PY-1"}


WRITER = """
    import itertools, sys
    from pathlib import Path
    from print3d.output.fileset import file_set
    for number in itertools.count():
        with file_set(Path(sys.argv[1]), "PY-1") as fresh:
            for name in ("a.stl", "b.stl", "c.png"):
                (fresh / name).write_text(str(number))
        if number == 0:
            print("writing", flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
def test_a_writer_killed_at_any_moment_leaves_one_whole_set(tmp_path: Path) -> None:
    command = [sys.executable, "-c", textwrap.dedent(WRITER), str(tmp_path)]
    for delay in (0.001, 0.004, 0.009, 0.013, 0.02):
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "writing"
            time.sleep(delay)
            process.send_signal(signal.SIGKILL)
        with pytest.raises(RuntimeError), file_set(tmp_path, "PY-1"):
            raise RuntimeError
        found = contents(tmp_path)
        assert sorted(found) == sorted(NAMES)
        assert len(set(found.values())) == 1, found


FULL = """
    import resource, signal, sys
    from pathlib import Path
    import numpy as np
    from print3d.errors import ExportError
    from print3d.geometry.mesh import Mesh
    from print3d.output import fileset
    from print3d.output.mesh import stl, threemf
    from print3d.output.pictures import views
    ball = np.random.default_rng(1).normal(size=(2000, 3))
    from scipy.spatial import ConvexHull
    hull = ConvexHull(ball / np.linalg.norm(ball, axis=1)[:, None])
    faces = hull.simplices.astype(np.int64)
    a, b, c = np.moveaxis(hull.points[faces], 1, 0)
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), a) < 0
    faces[inward] = faces[inward, ::-1]
    mesh = Mesh(10.0 * hull.points, faces)
    write = {
        "stl": lambda path: stl.write_stl(path, mesh),
        "3mf": lambda path: threemf.write_3mf(path, {"ball": mesh}, says={"Title": "t"}, material_name="m"),
        "png": lambda path: path.write_bytes(views.views_picture([mesh], views.Wearer(mesh), title="t", side="right")),
    }[sys.argv[1]]
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (9000, resource.RLIM_INFINITY))
    try:
        with fileset.file_set(Path(sys.argv[2]), "PY-1") as fresh:
            write(fresh / "a.stl")
    except ExportError as error:
        sys.exit(7 if "cannot be written" in str(error) else 8)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limit of file sizes")
@pytest.mark.parametrize("kind", ["stl", "3mf", "png"])
def test_a_full_disk_is_told_and_leaves_the_old_set(tmp_path: Path, kind: str) -> None:
    """A limit on file sizes stands in for the full disk; lib3mf by itself would end the process."""
    write(tmp_path, "old")
    assert run(FULL, kind, str(tmp_path)) == 7
    assert contents(tmp_path) == dict.fromkeys(NAMES, "old")


def test_two_builds_never_mix(tmp_path: Path) -> None:
    holder = textwrap.dedent("""
        import sys
        from pathlib import Path
        from print3d.output.fileset import file_set
        with file_set(Path(sys.argv[1]), "PY-1") as fresh:
            (fresh / "a.stl").write_text("first")
            print("inside", flush=True)
            sys.stdin.readline()
    """)
    with subprocess.Popen(
        [sys.executable, "-c", holder, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == "inside"
        with pytest.raises(ExportError, match="another build"), file_set(tmp_path, "PY-1"):
            pytest.fail("must not be entered")
        process.communicate("\n", timeout=30)
    assert contents(tmp_path) == {"a.stl": "first"}
    write(tmp_path, "second")  # and the lock is free again
    assert contents(tmp_path) == dict.fromkeys(NAMES, "second")


def test_asking_whether_a_folder_can_be_written_leaves_nothing(tmp_path: Path) -> None:
    refuse_unwritable(tmp_path / "not" / "there" / "yet", "PY-1")
    assert list(tmp_path.iterdir()) == []


def test_a_file_on_the_way_to_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(ExportError, match="choose a writable folder"):
        refuse_unwritable(tmp_path / "notes.txt" / "outputs", "PY-1")
    assert (tmp_path / "notes.txt").read_text() == "mine"
