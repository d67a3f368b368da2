"""Disks that are full or cannot be written: a message with what to do, the old set as it was, nothing half-written."""

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from print3d.cli.main import main
from tests.faults.conftest import content

Disk = Callable[..., Path]
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="small disks are mounted as Linux does")
slow = pytest.mark.slow
OLD = {"PY-900/pip_extension.stl": b"old", "PY-900/notes.txt": b"mine"}


def laid(folder: Path) -> None:
    for name, text in OLD.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(text)


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str]:
    with pytest.raises(SystemExit) as end:
        main([str(each) for each in arguments])
    return int(end.value.code or 0), capsys.readouterr().err


@pytest.mark.parametrize(
    "formats",
    [
        "stl",
        pytest.param("3mf", marks=slow),
        pytest.param("png", marks=slow),
        pytest.param("json,record", marks=slow),
    ],
)
def test_a_build_on_a_full_disk(case: Path, small_disk: Disk, capsys, formats: str) -> None:
    disk = small_disk("64k")
    laid(disk)
    (disk / "much.bin").write_bytes(b"x" * 24_000)
    before = content(disk)
    code, message = run(capsys, "build", case, "--out", disk, "--formats", formats)
    assert code == 2
    assert "No space left" in message or "cannot be written" in message
    assert str(disk / "PY-900") in message
    assert "--out" in message
    assert content(disk) == before
    assert [path.name for path in disk.iterdir() if path.is_dir()] == ["PY-900"]


def test_without_the_set_a_full_disk_would_leave_half_a_file(
    case: Path, small_disk: Disk, capsys, monkeypatch
) -> None:
    """The planted fault: a set that is written in place."""
    from contextlib import contextmanager

    @contextmanager
    def in_place(folder: Path, name: str, *_: object):
        (folder / name).mkdir(exist_ok=True)
        yield folder / name

    disk = small_disk("64k")
    laid(disk)
    before = content(disk)
    monkeypatch.setattr("print3d.output.files.file_set", in_place)
    with pytest.raises(OSError, match="No space left"):
        main(["build", str(case), "--out", str(disk), "--formats", "stl"])
    assert content(disk) != before


def test_a_build_on_a_disk_that_only_reads(case: Path, small_disk: Disk, capsys, monkeypatch) -> None:
    from print3d import flow

    monkeypatch.setattr(flow, "shape", lambda *_: pytest.fail("it was built"))
    disk = small_disk("64k", read_only=True)
    code, message = run(capsys, "build", case, "--out", disk)
    assert code == 2
    assert (
        message
        == f"{case}: {disk / 'PY-900'}: cannot be written (Read-only file system); choose a writable folder with --out\n"
    )


def test_a_disk_that_only_reads_is_asked_before_the_build(case: Path, small_disk: Disk, monkeypatch) -> None:
    """Without the question the case is built first: the guard that the test above holds."""
    from print3d import flow

    monkeypatch.setattr("print3d.output.fileset.refuse_unwritable", lambda *_: None)
    monkeypatch.setattr(flow, "shape", lambda *_: (_ for _ in ()).throw(ZeroDivisionError("it was built")))
    with pytest.raises(ZeroDivisionError):
        main(["build", str(case), "--out", str(small_disk("64k", read_only=True))])


@pytest.mark.parametrize(
    "command", ["sheet", pytest.param("model", marks=slow), pytest.param("series", marks=slow)]
)
def test_other_commands_on_a_full_disk(case: Path, small_disk: Disk, capsys, command: str) -> None:
    from tests.cli.bad_calls import STEPS, model_text
    from tests.inputs.bad_cases import case_text

    disk = small_disk("20k")
    case.write_text(
        model_text({}) if command == "model" else case_text({**STEPS, "case.code": '"PY-900"'}),
        encoding="utf-8",
    )
    call = {
        "sheet": ["sheet", "mallet"], "model": ["model", case, "--formats", "stl"],
        "series": ["series", case, "--goal", "35", "--formats", "stl", "--workers", "1"],
    }[command]  # fmt: skip
    code, message = run(capsys, *call, "--out", disk)
    assert code == 2
    assert "cannot be written" in message
    assert "Traceback" not in message
    assert content(disk) == {}


def test_a_started_case_on_a_full_disk(small_disk: Disk, capsys) -> None:
    disk = small_disk("8k")
    (disk / "much.bin").write_bytes(b"x" * 8192)
    code, message = run(
        capsys, "suggest", "mallet", "--finger", "ring", "--side", "left", "--write", disk / "PY-9.toml"
    )
    assert code == 2
    assert "PY-9.toml: cannot be written (No space left on device)" in message
    assert sorted(path.name for path in disk.iterdir()) == ["much.bin"]


def test_kept_results_on_a_full_disk(small_disk: Disk) -> None:
    from print3d.errors import ExportError
    from print3d.studies.store import Store

    disk = small_disk("16k")
    store = Store(disk / "kept")
    store.write("first", {"a": 1})
    with pytest.raises(ExportError, match="No space left"):
        store.write("second", {"a": "x" * 40_000})
    assert (store.read("first") or {}).get("a") == 1
    assert store.read("second") is None
    assert [path.name for path in (disk / "kept").iterdir()] == ["first.json"]
