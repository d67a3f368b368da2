"""Bad input through the command line: exit 2, one message with file, key, value and what would be accepted, nothing written."""

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

from print3d.cli import main
from print3d.inputs import toml_file

Run = Callable[..., list[str]]

BASE = {
    "case.code": '"PY-900"',
    "case.side": '"right"',
    "case.finger": '"middle"',
    "measured.sex": '"man"',
    "measured.hand_length_mm": "193",
    "measured.middle.pip_girth_mm": "66",
    "measured.middle.dip_girth_mm": "56",
    "orthosis.kind": '"pip_extension"',
    "print.material": '"petg"',
    "print.printer": '"extrusion"',
}
MALLET = {"orthosis.kind": '"mallet"', "orthosis.dip_hyperextension_deg": "5"}


def case_text(edits: Mapping[str, str | None]) -> str:
    """Return a sound case as TOML, with keys replaced, added, or (None) left out; values are TOML literals."""
    tables: dict[str, list[str]] = {}
    for key, literal in {**BASE, **edits}.items():
        table, _, name = key.rpartition(".")
        if literal is not None:
            tables.setdefault(table, []).append(f"{name} = {literal}")
    top = tables.pop("", [])
    return "\n".join(top + [line for table, keys in tables.items() for line in (f"[{table}]", *keys)]) + "\n"


@pytest.fixture
def refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a function that builds a file, expects a refusal, and returns the lines of its message."""
    out = tmp_path / "outputs"

    def run(path: Path, *options: str) -> list[str]:
        with pytest.raises(SystemExit) as end:
            main(["build", str(path), "--out", str(out), *options])
        printed = capsys.readouterr()
        assert end.value.code == 2
        assert printed.out == ""
        assert not [file for file in tmp_path.rglob("*") if file.suffix in (".stl", ".3mf", ".step", ".png", ".json")]
        return printed.err.splitlines()

    return run


def written(folder: Path, edits: Mapping[str, str | None]) -> Path:
    path = folder / "case.toml"
    path.write_text(case_text(edits), encoding="utf-8")
    return path


# one wrong key: what is changed, the key named, the value named, what would be accepted
ONE_KEY = [
    # not a value of this kind
    ("text for a number", {"orthosis.wall_mm": '"2"'}, "orthosis.wall_mm", '"2"', "a number from 0.8 to 6 mm"),
    ("number with its unit", {"orthosis.wall_mm": '"2 mm"'}, "orthosis.wall_mm", '"2 mm"', "a number from 0.8 to 6 mm"),
    ("yes/no for a number", {"orthosis.clearance_mm": "true"}, "orthosis.clearance_mm", "true", "a number from 0 to 6 mm"),
    ("list for a number", {"orthosis.wall_mm": "[2, 3]"}, "orthosis.wall_mm", "[2, 3]", "a number from 0.8 to 6 mm"),
    ("date for a number", {"orthosis.wall_mm": "2026-11-25"}, "orthosis.wall_mm", "2026-11-25", "a number"),
    ("number for a text", {"case.code": "14"}, "case.code", "14", "1 to 24 letters"),
    ("number for a table", {"orthosis.vents": "3"}, "orthosis.vents", "3", "a table [orthosis.vents]"),
    ("table for a number", {"orthosis.wall_mm": "{ value = 2 }"}, "orthosis.wall_mm", "a table", "a number"),
    ("not a number", {"orthosis.wall_mm": "nan"}, "orthosis.wall_mm", "nan", "from 0.8 to 6 mm"),
    ("infinite", {"orthosis.wall_mm": "inf"}, "orthosis.wall_mm", "inf", "from 0.8 to 6 mm"),
    ("minus infinite", {"measured.hand_length_mm": "-inf"}, "measured.hand_length_mm", "-inf", "from 80 to 260 mm"),
    ("number beyond all floats", {"orthosis.wall_mm": "1e999"}, "orthosis.wall_mm", "inf", "from 0.8 to 6 mm"),
    # beyond the limits
    ("negative girth", {"measured.middle.pip_girth_mm": "-66"}, "measured.middle.pip_girth_mm", "-66", "from 28 to 140 mm"),
    ("girth in cm", {"measured.middle.pip_girth_mm": "6.6"}, "measured.middle.pip_girth_mm", "6.6", "from 28 to 140 mm"),
    ("zero wall", {"orthosis.wall_mm": "0"}, "orthosis.wall_mm", "0", "from 0.8 to 6 mm"),
    ("wall of an inch", {"orthosis.wall_mm": "25.4"}, "orthosis.wall_mm", "25.4", "from 0.8 to 6 mm"),
    ("negative clearance", {"orthosis.clearance_mm": "-0.5"}, "orthosis.clearance_mm", "-0.5", "from 0 to 6 mm"),
    ("angle beyond the kind", {"orthosis.pip_flexion_deg": "95"}, "orthosis.pip_flexion_deg", "95", "from 0 to 60 degrees"),
    ("negative angle", {"orthosis.pip_flexion_deg": "-5"}, "orthosis.pip_flexion_deg", "-5", "from 0 to 60 degrees"),
    ("strap nobody sells", {"orthosis.straps.width_mm": "12"}, "orthosis.straps.width_mm", "12", "10, 13, 16, 20, 25"),
    ("open fraction in percent", {"orthosis.vents.open_fraction": "30"}, "orthosis.vents.open_fraction", "30", "from 0.01 to 0.7"),
    # not one of the choices
    ("unknown side", {"case.side": '"rigth"'}, "case.side", '"rigth"', 'one of "left", "right"'),
    ("thumb", {"case.finger": '"thumb"'}, "case.finger", '"thumb"', 'one of "index", "middle", "ring", "little"'),
    ("unknown form", {"orthosis.form": '"palmar"'}, "orthosis.form", '"palmar"', 'one of "volar", "dorsal", "sleeve"'),
    ("unknown kind", {"orthosis.kind": '"malet"'}, "orthosis.kind", '"malet"', 'the nearest is "mallet"'),
    ("kind as a number", {"orthosis.kind": "2"}, "orthosis.kind", "2", 'one of "pip_extension", "mallet"'),
    ("unknown material", {"print.material": '"PETG-CF"'}, "print.material", '"PETG-CF"', 'the nearest is "petg"'),
    ("unknown printer", {"print.printer": '"extrusoin"'}, "print.printer", '"extrusoin"', 'the nearest is "extrusion"'),
    ("a printer that cannot", {"print.printer": '"resin"'}, "print.printer", '"resin"', "petg needs extrusion"),
    ("code with a blank", {"case.code": '"PY 900"'}, "case.code", '"PY 900"', "letters a to z, digits, - and _"),
    ("code that climbs out", {"case.code": '"../PY"'}, "case.code", '"../PY"', "letters a to z, digits, - and _"),
    ("code too long", {"case.code": f'"{"P" * 25}"'}, "case.code", "P" * 25, "1 to 24 letters"),
    ("empty code", {"case.code": '""'}, "case.code", '""', "1 to 24 letters"),
    # unknown keys
    ("misspelt key", {"orthosis.wall_thikness_mm": "2"}, "orthosis.wall_thikness_mm", "2", "the nearest is orthosis.wall_mm"),
    ("unit in the key", {"measured.middle.pip_girth_cm": "6"}, "measured.middle.pip_girth_cm", "6", "measured.middle.pip_girth_mm"),
    ("key without its unit", {"orthosis.clearance": "0.5"}, "orthosis.clearance", "0.5", "orthosis.clearance_mm"),
    ("key in the wrong table", {"measured.pip_girth_mm": "66"}, "measured.pip_girth_mm", "66", "measured.middle.pip_girth_mm"),
    ("unknown table", {"prnt.material": '"pla"'}, "prnt", "a table", "the nearest is print"),
    ("key of another kind", {"orthosis.dip_hyperextension_deg": "5"}, "orthosis.dip_hyperextension_deg", "5", "only kind mallet has it"),
    ("nothing like a key", {"orthosis.zzz": "1"}, "orthosis.zzz", "1", "known here are kind, wall_mm, clearance_mm"),
    # one number against another
    (
        "girths out of order",
        {"measured.middle.dip_girth_mm": "70"},
        "measured.middle.dip_girth_mm",
        "70",
        "at most 69 goes with pip_girth_mm = 66",
    ),
    ("rim too round for the wall", {"orthosis.rim_radius_mm": "1.2"}, "orthosis.rim_radius_mm", "1.2", "half of wall_mm = 2, that is below 1"),
    ("wall too thin for the rim", {"orthosis.wall_mm": "1.8"}, "orthosis.rim_radius_mm", "0.9", "half of wall_mm = 1.8"),
    ("bridge too narrow", {"orthosis.vents.pitch_mm": "4.5"}, "orthosis.vents.pitch_mm", "4.5", "bridge of 1.50 mm"),
    ("vents too open", {"orthosis.vents.open_fraction": "0.6"}, "orthosis.vents.open_fraction", "0.6", "open fraction below 0.354"),
    (
        "pitch told twice",
        {"orthosis.vents.pitch_mm": "8", "orthosis.vents.open_fraction": "0.2"},
        "orthosis.vents.open_fraction",
        "0.2",
        "pitch_mm = 8",
    ),
    (
        "engraved through the wall",
        {"orthosis.marking.style": '"engraved"', "orthosis.marking.depth_mm": "1.4"},
        "orthosis.marking.depth_mm",
        "1.4",
        "engrave at most 1.2",
    ),
    ("palm longer than the hand", {"measured.palm_length_mm": "120", "measured.hand_length_mm": "110"}, "measured.palm_length_mm", "120", "at most 110"),
    ("girth below twice the breadth", {"measured.hand_breadth_mm": "90", "measured.hand_girth_mm": "170"}, "measured.hand_girth_mm", "170", "hand_breadth_mm = 90"),
    (
        "straighter than the joint goes",
        {"measured.middle.pip_passive_extension_deficit_deg": "25", "orthosis.pip_flexion_deg": "10"},
        "orthosis.pip_flexion_deg",
        "10",
        "at least 25 degrees",
    ),
    (
        "more bent than the joint goes",
        {"measured.middle.pip_max_flexion_deg": "30", "orthosis.pip_flexion_deg": "45"},
        "orthosis.pip_flexion_deg",
        "45",
        "at most 30 degrees",
    ),
    (
        "hyperextended beyond the joint",
        {**MALLET, "measured.middle.dip_passive_hyperextension_deg": "0", "orthosis.dip_hyperextension_deg": "8"},
        "orthosis.dip_hyperextension_deg",
        "8",
        "at most 0 degrees",
    ),
    (
        "hyperextended without an override",
        {**MALLET, "orthosis.dip_hyperextension_deg": "12"},
        "orthosis.dip_hyperextension_deg",
        "12",
        'allow = ["dip_hyperextension"]',
    ),
    (
        "override that nothing needs",
        {"override.reason": '"by the surgeon"', "override.allow": '["wall"]'},
        "override.allow[0]",
        '"wall"',
        "not a known override",
    ),
    (
        "override for an override of another name",
        {**MALLET, "override.reason": '"by the surgeon"', "override.allow": '["dip_hyperextention"]'},
        "override.allow[0]",
        '"dip_hyperextention"',
        'the nearest is "dip_hyperextension"',
    ),
    ("override of no reason", {"override.reason": '""'}, "override.reason", '""', "says why"),
    ("override list of numbers", {"override.reason": '"by the surgeon"', "override.allow": "[1]"}, "override.allow[0]", "1", "a text in quotes"),
]  # fmt: skip

MISSING = [
    ("code", {"case.code": None}, "case.code", "1 to 24 letters"),
    ("side", {"case.side": None}, "case.side", 'one of "left", "right"'),
    ("finger", {"case.finger": None}, "case.finger", 'one of "index"'),
    ("kind", {"orthosis.kind": None, "orthosis.wall_mm": "2"}, "orthosis.kind", 'one of "pip_extension"'),
    ("material", {"print.material": None}, "print.material", "a text in quotes"),
    ("table [print]", {"print.material": None, "print.printer": None}, "print", "a table [print]"),
    ("reason of an override", {"override.allow": "[]"}, "override.reason", "says why"),
]


@pytest.mark.parametrize(("edits", "key", "found", "accepted"), [row[1:] for row in ONE_KEY], ids=[row[0] for row in ONE_KEY])
def test_one_wrong_key_gives_one_line(
    edits: Mapping[str, str], key: str, found: str, accepted: str, tmp_path: Path, refused: Run
) -> None:
    path = written(tmp_path, edits)
    (line,) = refused(path)
    assert line.startswith(f"{path}: {key} = ")
    assert found in line.removeprefix(f"{path}: {key} = ").split(": ")[0]
    assert accepted in line
    assert not (tmp_path / "outputs").exists()


@pytest.mark.parametrize(("edits", "key", "accepted"), [row[1:] for row in MISSING], ids=[row[0] for row in MISSING])
def test_a_missing_key_is_named(edits: Mapping[str, str | None], key: str, accepted: str, tmp_path: Path, refused: Run) -> None:
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
        ("[case]\nnote = 'größer'\n".encode("latin-1"), 2, "byte 0xf6 is not UTF-8"),
        (case_text({}).encode("utf-16"), 1, "byte 0xff is not UTF-8"),
        (b"x = " + b"9" * 5000, 1, "not TOML"),
    ],
    ids=["open bracket", "no quotes", "decimal comma", "key twice", "open text", "latin-1", "utf-16", "5000 digits"],
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
    assert message == f"{path}: the file is empty; a case needs at least the tables [case], [orthosis] and [print]"


def test_lists_nested_a_thousand_deep_are_refused(tmp_path: Path, refused: Run) -> None:
    path = tmp_path / "case.toml"
    path.write_text("x = " + "[" * 20_000)
    (message,) = refused(path)
    assert message.startswith(f"{path}: ")


def test_a_missing_file_is_named_with_the_nearest(tmp_path: Path, refused: Run) -> None:
    near = written(tmp_path, {})
    (message,) = refused(tmp_path / "csae.toml")
    assert message == f"{tmp_path / 'csae.toml'}: there is no such file; the nearest is {near}; give the path of a TOML file"


def test_a_folder_is_refused_with_a_file_in_it(tmp_path: Path, refused: Run) -> None:
    inside = written(tmp_path, {})
    (message,) = refused(tmp_path)
    assert message == f"{tmp_path}: is a folder; give one file, for example {inside}"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes in the file system here")
def test_a_pipe_is_refused_at_once(tmp_path: Path, refused: Run) -> None:
    path = tmp_path / "pipe.toml"
    os.mkfifo(path)
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
    assert message == "--formats = 'stl,obj': accepted are stl, 3mf, step, png, json, with commas between them"
    (message,) = refused(path, "--formats", ",")
    assert message.startswith("--formats = ','")


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

    monkeypatch.setattr(flow, "check", lambda *_: pytest.fail("it was built"))
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
    tiny = text[text.index("[extrusion]") : text.index("[extrusion_large]")].replace("[extrusion]", "[tiny]")
    (tmp_path / "printers").mkdir()
    (tmp_path / "printers" / "tiny.toml").write_text(tiny.replace("= 220,", "= 30,").replace("= 250,", "= 30,"))
    (tmp_path / "cases").mkdir()
    path = written(tmp_path / "cases", {"print.printer": '"tiny"'})
    (message,) = refused(path)
    assert message.startswith(f"{path}: print.printer = ")
    assert "30 x 30 x 30 mm" in message


BUILT = [
    ("vents that cannot fit", {"orthosis.vents.diameter_mm": "15"}, "orthosis.vents", "15"),
    ("straps that cannot fit", {"orthosis.straps.width_mm": "38"}, "orthosis.straps.width_mm", "38"),
]


@pytest.mark.parametrize(("edits", "key", "found"), [row[1:] for row in BUILT], ids=[row[0] for row in BUILT])
@pytest.mark.xfail(reason="the shape takes no notice yet, or says so without the key", strict=True)
def test_what_cannot_fit_is_refused(edits: Mapping[str, str], key: str, found: str, tmp_path: Path, refused: Run) -> None:
    path = written(tmp_path, edits)
    (message,) = refused(path, "--formats", "stl")
    assert message.startswith(f"{path}: ")
    assert key in message
    assert found in message
