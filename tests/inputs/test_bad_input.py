"""Bad input through the command line: exit 2, one message with file, key, value and what would be accepted, nothing written."""

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

from print3d.cli.main import main
from print3d.inputs import toml_file
from print3d.inputs.problems import MOST_SHOWN
from print3d.output.formats import ALL
from tests.conftest import in_time
from tests.inputs.bad_cases import MISSING, ONE_KEY, case_text

Run = Callable[..., list[str]]


@pytest.fixture
def refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a function that builds a file, expects a refusal, and returns the lines of its message."""
    out = tmp_path / "outputs"

    def run(path: Path, *options: str) -> list[str]:
        before = sorted(tmp_path.rglob("*"))
        with pytest.raises(SystemExit) as end:
            main(["build", str(path), "--out", str(out), *options])
        printed = capsys.readouterr()
        assert end.value.code == 2
        assert printed.out == ""
        assert sorted(tmp_path.rglob("*")) == before  # not even an empty folder or a lock
        return printed.err.splitlines()

    return run


def written(folder: Path, edits: Mapping[str, str | None]) -> Path:
    path = folder / "case.toml"
    path.write_text(case_text(edits), encoding="utf-8")
    return path


@pytest.mark.parametrize("wrong", [row[1:] for row in ONE_KEY], ids=[row[0] for row in ONE_KEY])
def test_one_wrong_key_gives_one_line(
    wrong: tuple[Mapping[str, str], str, str, str], tmp_path: Path, refused: Run
) -> None:
    edits, key, found, accepted = wrong
    path = written(tmp_path, edits)
    (line,) = refused(path)
    assert line.startswith(f"{path}: {key} = ")
    assert found in line.removeprefix(f"{path}: {key} = ").split(": ")[0]
    assert accepted in line
    assert not (tmp_path / "outputs").exists()


@pytest.mark.parametrize(
    ("edits", "key", "accepted"), [row[1:] for row in MISSING], ids=[row[0] for row in MISSING]
)
def test_a_missing_key_is_named(
    edits: Mapping[str, str | None], key: str, accepted: str, tmp_path: Path, refused: Run
) -> None:
    path = written(tmp_path, edits)
    (line,) = refused(path)
    assert line.startswith(f"{path}: {key} is missing: give ")
    assert accepted in line
    assert not (tmp_path / "outputs").exists()


def test_all_problems_of_a_file_come_at_once(tmp_path: Path, refused: Run) -> None:
    faults = {
        "case.side": '"both"',
        "case.finger": None,
        "measured.hand_length_mm": "nan",
        "measured.middle.dip_girth_mm": "80",
        "orthosis.wall_thikness_mm": "2",
        "orthosis.clearance_mm": '"0.5"',
        "orthosis.rim_radius_mm": "1.5",
        "orthosis.vents.pitch_mm": "3.5",
        "print.material": '"wood"',
        "override.allow": '["anything"]',
    }
    path = written(tmp_path, faults)
    lines = refused(path)
    named = [line.removeprefix(f"{path}: ").split(" ")[0] for line in lines]
    assert sorted(named) == sorted(
        [*(key for key in faults if key != "override.allow"), "override.reason", "override.allow[0]"]
    )


def test_a_contradiction_needs_two_valid_numbers(tmp_path: Path, refused: Run) -> None:
    path = written(tmp_path, {"orthosis.wall_mm": '"3"', "orthosis.rim_radius_mm": "1.2"})
    (line,) = refused(path)
    assert "orthosis.wall_mm" in line


@pytest.mark.parametrize(
    ("content", "line", "reason"),
    [
        (b"[case\ncode = 1\n", 1, "not TOML"),
        (b"[case]\ncode = PY-900\n", 2, "code = PY-900: not TOML"),
        (b"[orthosis]\nwall_mm = 2,5\n", 2, "decimal point, not a comma"),
        (b"[case]\nside = 'left'\nside = 'right'\n", 3, "side = 'right': not TOML"),
        (b"[case]\nnote = 'never closed\n", 2, "note = 'never closed: not TOML"),
        ("[case]\nnote = 'größer'\n".encode("latin-1"), 2, "byte 0xf6 is not UTF-8 (in Latin-1 it is ö)"),
        (b"x = " + b"9" * 5000, 1, "not TOML"),
    ],
    ids=["open bracket", "no quotes", "decimal comma", "key twice", "open text", "latin-1", "5000 digits"],
)  # fmt: skip
def test_text_that_is_no_toml_is_refused_with_its_line(
    content: bytes, line: int, reason: str, tmp_path: Path, refused: Run
) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(content)
    (message,) = refused(path)
    assert message.startswith(f"{path}: line {line}: ")
    assert reason in message


@pytest.mark.parametrize("content", [b"", b"\n\n", b"# only a remark\n", b"\xef\xbb\xbf"])
def test_a_file_without_keys_is_empty(content: bytes, tmp_path: Path, refused: Run) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(content)
    (message,) = refused(path)
    assert (
        message
        == f"{path}: the file is empty; a case needs at least the tables [case], [orthosis] and [print]"
    )


def test_lists_nested_a_thousand_deep_are_refused(tmp_path: Path, refused: Run) -> None:
    path = tmp_path / "case.toml"
    path.write_text("x = " + "[" * 20_000)
    (message,) = refused(path)
    assert message.startswith(f"{path}: ")


def test_keys_of_very_many_parts_are_refused_before_they_are_read(
    tmp_path: Path, refused: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The time to read such a key grows with the square of its parts: minutes for what fits a file."""
    path = tmp_path / "case.toml"
    path.write_text("[case]\n" + ".".join("a" * (toml_file.MOST_DOTS + 2)) + " = 1\n")
    monkeypatch.setattr(toml_file.tomllib, "loads", lambda text: pytest.fail("it was read"))
    (message,) = refused(path)
    assert message.startswith(f"{path}: line 2: a.a.a")
    assert "more than 60 dots in a line" in message


def test_of_a_flood_of_problems_the_first_are_told(tmp_path: Path, refused: Run) -> None:
    path = tmp_path / "case.toml"
    path.write_text(case_text({}) + "".join(f"key_{n} = 1\n" for n in range(MOST_SHOWN + 7)))
    *lines, last = refused(path)
    assert len(lines) == MOST_SHOWN
    assert all(line.startswith(f"{path}: print.key_") for line in lines)
    assert last == f"{path}: and 7 more problems; is it the file that was meant?"


def test_a_missing_file_is_named_with_the_nearest(tmp_path: Path, refused: Run) -> None:
    near = written(tmp_path, {})
    (message,) = refused(tmp_path / "csae.toml")
    assert (
        message
        == f"{tmp_path / 'csae.toml'}: there is no such file; the nearest is {near}; give the path of a TOML file"
    )


def test_a_folder_is_refused_with_a_file_in_it(tmp_path: Path, refused: Run) -> None:
    inside = written(tmp_path, {})
    (message,) = refused(tmp_path)
    assert message == f"{tmp_path}: is a folder; give one file, for example {inside}"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes in the file system here")
def test_a_pipe_is_refused_at_once(tmp_path: Path, refused: Run) -> None:
    path = tmp_path / "pipe.toml"
    os.mkfifo(path)
    with in_time(10):
        (message,) = refused(path)
    assert message == f"{path}: is not a regular file; give a text file in TOML"


def test_a_large_file_is_not_read(tmp_path: Path, refused: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "scan.toml"
    path.write_bytes(b"#" * (toml_file.LARGEST_BYTES + 1))
    monkeypatch.setattr(Path, "read_bytes", lambda self: pytest.fail("it was read"))
    (message,) = refused(path)
    assert message == f"{path}: has 1000001 bytes, at most 1000000 are accepted; is it a case file?"


def test_an_unreadable_file_is_refused(tmp_path: Path, refused: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, {})

    def denied(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "read_bytes", denied)
    (message,) = refused(path)
    assert message == f"{path}: cannot be read (Permission denied); give a text file that you may read"


def test_unknown_formats_are_refused_once(tmp_path: Path, refused: Run) -> None:
    path = written(tmp_path, {})
    (message,) = refused(path, "--formats", "stl,obj")
    accepted = ", ".join(ALL)
    assert message == f"--formats stl,obj: accepted are {accepted}, with commas between them"
    (message,) = refused(path, "--formats", ",")
    assert message.startswith("--formats ,: ")


# what only shows when the case is built -----------------------------------------------------------------------


@contextmanager
def _unwritable(folder: Path) -> Iterator[Path]:
    """Yield a folder that this user cannot write into."""
    if os.geteuid() == 0:
        yield Path("/proc/print3d")
        return
    folder.mkdir()
    folder.chmod(0o500)
    yield folder / "inner"
    folder.chmod(0o700)


@pytest.mark.skipif(sys.platform != "linux", reason="/proc is what root cannot write into")
def test_an_output_folder_that_cannot_be_written_stops_before_the_build(
    tmp_path: Path, refused: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    from print3d import flow

    monkeypatch.setattr(flow, "shape", lambda *_: pytest.fail("it was built"))
    path = written(tmp_path, {})
    with _unwritable(tmp_path / "locked") as folder:
        (message,) = refused(path, "--out", str(folder))
    assert str(folder) in message
    assert "choose a writable folder with --out" in message


def test_a_file_in_place_of_the_output_folder_is_left_alone(tmp_path: Path, refused: Run) -> None:
    path = written(tmp_path, {})
    in_the_way = tmp_path / "notes.txt"
    in_the_way.write_text("mine")
    (message,) = refused(path, "--out", str(in_the_way))
    assert str(in_the_way) in message
    assert "--out" in message
    assert in_the_way.read_text() == "mine"


def test_a_bed_too_small_names_both_sizes(tmp_path: Path, refused: Run) -> None:
    from print3d.inputs.materials import DATA

    text = (DATA / "printers.toml").read_text(encoding="utf-8")
    tiny = text[text.index("[extrusion]") : text.index("[extrusion_large]")].replace("[extrusion", "[tiny")
    (tmp_path / "printers").mkdir()
    (tmp_path / "printers" / "tiny.toml").write_text(
        tiny.replace("= 220,", "= 30,").replace("= 250,", "= 30,")
    )
    (tmp_path / "cases").mkdir()
    path = written(tmp_path / "cases", {"print.printer": '"tiny"'})
    (message,) = refused(path, "--formats", "stl")
    assert message.startswith(f"{path}: print.printer = ")
    assert "30 x 30 x 30 mm" in message


BUILT = [
    ("straps that cannot fit", {"orthosis.straps.width_mm": "50"}, "orthosis.straps.width_mm", "50"),
]


@pytest.mark.parametrize(("edits", "key", "found"), [row[1:] for row in BUILT], ids=[row[0] for row in BUILT])
def test_what_cannot_fit_is_refused(
    edits: Mapping[str, str], key: str, found: str, tmp_path: Path, refused: Run
) -> None:
    path = written(tmp_path, edits)
    (message,) = refused(path, "--formats", "stl")
    assert message.startswith(f"{path}: ")
    assert key in message
    assert found in message
