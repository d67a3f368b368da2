"""Hostile files and codes: refused within bounded time and memory, and nothing is written outside the output folder."""

import os
import sys
from pathlib import Path

import pytest

from print3d.cli.main import main
from print3d.errors import ExportError, InputError
from print3d.inputs import case as case_module
from print3d.inputs.case import CaseHeader
from print3d.inputs.folder_name import is_device
from print3d.output import fileset
from tests.cli.bad_calls import MALLET, record
from tests.conftest import in_ci, in_time
from tests.faults.conftest import content, started
from tests.inputs.bad_cases import case_text

# --- time and memory -----------------------------------------------------------------------------------------------------

LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (3_000_000_000, 3_000_000_000))
resource.setrlimit(resource.RLIMIT_CPU, (20, 20))
import time
from print3d import flow
from print3d.cli.main import main
began, before = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    main()
finally:
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    print(f"cost {time.process_time() - began:.2f} s {used / 1024:.0f} MB")
"""
MANY = 35_000
FLOODS = {
    "50 MB of nothing": b"#" * 50_000_000,
    "50 MB of keys": b"a = 1\n" * 8_000_000,
    "lists nested deeply": b"x = " + b"[" * 900_000,
    "lists nested and closed": b"x = " + b"[" * 400_000 + b"]" * 400_000,
    "tables nested deeply": b"x = " + b"{a=" * 300_000,
    "dotted keys": b"[orthosis]\n" + b".".join([b"a"] * 400_000) + b" = 1\n",
    "a header of dots": b"[" + b".".join([b"a"] * 400_000) + b"]\nx = 1\n",
    "a number of a million digits": b"[orthosis]\nwall_mm = " + b"9" * 980_000 + b"\n",
    "a fraction of a million digits": b"[orthosis]\nwall_mm = 2." + b"9" * 980_000 + b"\n",
    "an exponent of a million digits": b"[orthosis]\nwall_mm = 1e" + b"9" * 980_000 + b"\n",
    "a hexadecimal number of a million digits": b"[orthosis]\nwall_mm = 0x" + b"f" * 980_000 + b"\n",
    "a text of a million letters": b"[orthosis]\nkind = '" + b"mallet" * 160_000 + b"'\n",
    "a code of a million letters": b"[case]\ncode = '" + b"P" * 980_000 + b"'\n",
    "a key of a million letters": b"[orthosis]\n" + b"wall_mm" * 140_000 + b" = 1\n",
    "many keys": b"[orthosis]\nkind = 'mallet'\n" + b"".join(b"k%d = 1\n" % number for number in range(MANY)),
    "many nearly right keys": b"[orthosis]\nkind = 'mallet'\n" + b"".join(b"wa%d_mm=1\n" % number for number in range(MANY)),
    "many tables": b"".join(b"[t%d]\n" % number for number in range(MANY)),
    "many overrides": b"[orthosis]\nkind='mallet'\n[override]\nreason='why not'\nallow=[" + b"'dip', " * (MANY + 1) + b"]\n",
    "many materials": b"[print]\nmaterial = [" + b"1," * 400_000 + b"]\n",
    "escapes": b"[case]\ncode = \"" + b"\\u202e" * 160_000 + b"\"\n",
    "null characters": b"\0" * 900_000,
    "the same table in a list": b"[[case]]\n" * 100_000,
    "no end of a text": b"[case]\nnote = '''" + b"x" * 900_000,
}  # fmt: skip


@pytest.mark.slow(in_ci=True)
@pytest.mark.skipif(sys.platform != "linux", reason="limits as Linux keeps them")
def test_floods_are_refused_in_bounded_time_and_memory(tmp_path: Path) -> None:
    paths = []
    for number, text in enumerate(FLOODS.values()):
        paths.append(tmp_path / f"{number}.toml")
        paths[-1].write_bytes(text)
    process = started("check", *paths, cwd=tmp_path, code=LIMITED)
    out, err = process.communicate(timeout=300)
    assert process.returncode == 2, err[-2000:]
    *_, cost = [line.split() for line in out.splitlines() if line.startswith("cost")]
    assert float(cost[1]) < 15.0  # CPU seconds for all; measured: about 6
    assert float(cost[3]) < 400.0  # MB beyond what the program has loaded
    for path, name in zip(paths, FLOODS, strict=True):
        lines = [line for line in err.splitlines() if line.startswith(f"{path}: ")]
        assert 1 <= len(lines) <= 62, name
        assert max(map(len, lines)) < 4000, name
    assert len(err) < 200_000
    assert sorted(tmp_path.iterdir()) == sorted(paths)


@pytest.mark.slow(in_ci=True)
@pytest.mark.skipif(sys.platform != "linux", reason="limits as Linux keeps them")
def test_floods_for_other_readers(tmp_path: Path) -> None:
    from print3d.inputs.class_list import read_class_list
    from print3d.output.record.record import read_record

    floods = {
        "wide.csv": b"case.code" + b",a" * 400_000, "deep.csv": b"case.code," + b"a." * 400_000 + b"\nT,1\n",
        "long.csv": b"case.code\n" + b"T\n" * 400_000, "quote.csv": b'case.code\n"' + b"T\n" * 400_000,
        "many.csv": b"case.code," + b",".join(b"c%d" % number for number in range(120_000)),
        "large.csv": b"#" * 50_000_000, "large.json": b" " * 50_000_000, "deep.json": b"[" * 5_000_000,
        "digits.json": b'{"format": ' + b"9" * 5_000_000 + b"}", "tables.json": b'{"a":' * 1_000_000,
    }  # fmt: skip
    for name, text in floods.items():
        path = tmp_path / name
        path.write_bytes(text)
        with pytest.raises(InputError, match=name):
            read_class_list(path, {}) if name.endswith("csv") else read_record(path)


def test_a_pipe_holds_no_reader_up(tmp_path: Path, capsys) -> None:
    """A reader without the question waits for ever; one with it answers at once."""
    for name, command in (("l.csv", "class-set"), ("r.json", "remake"), ("m.toml", "model")):
        path = tmp_path / name
        os.mkfifo(path)
        with in_time(20), pytest.raises(SystemExit) as end:
            main([command, str(path), "--out", str(tmp_path / "out")])
        assert end.value.code == 2
        assert "is not a regular file" in capsys.readouterr().err
        path.unlink()


# --- codes ---------------------------------------------------------------------------------------------------------------

CODES = [
    "../PY", "..", ".", "", "/tmp/PY", "a/b", "a\\b", "..\\..\\x", "C:", "C:\\x", "PY\0", "PY\n", "PY\r", "\x1b[2J", "PY\t1", " PY", "PY ",
    "PY.", "PY.old", ".PY", "~", "~root", "$HOME", "%TEMP%", "`id`", "PY;id", "PY|id", "*", "?", '"', "'", "<PY>", "PY:stream", "P" * 5000,
    "ПЯ-14", "ＰＹ", "PY\u2215x", "PY\u202e", "PY\u200b", "é", "e\u0301", "🖐", "\ud800", "ß", "ı", "PY\uff0fx", "١٢",
    "con", "CON", "Nul", "aux", "PRN", "com0", "COM9", "lpt1",
]  # fmt: skip
GOOD = ["P", "PY-014", "a_b-C9", "0", "-", "console", "com", "COM10", "lpt", "nulls", "P" * 24]


@pytest.mark.parametrize("code", CODES, ids=ascii)
def test_a_hostile_code_names_no_folder(code: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="code"):
        CaseHeader(code=code, side="left", finger="ring")
    with pytest.raises(ExportError), fileset.file_set(tmp_path / "outputs", code):
        pytest.fail("must not be entered")
    with pytest.raises(ExportError):
        fileset.refuse_unwritable(tmp_path / "outputs", code)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("code", GOOD)
def test_a_plain_code_is_taken(code: str, tmp_path: Path) -> None:
    assert CaseHeader(code=code, side="left", finger="ring").code == code
    with fileset.file_set(tmp_path, code) as folder:
        (folder / "a.stl").touch()
    assert content(tmp_path).keys() == {f"{code}/a.stl", f"{code}/.print3d-files"}


def test_each_of_two_guards_keeps_a_code_inside(tmp_path: Path, monkeypatch) -> None:
    """The planted faults: a case file that takes any code is still held by the folder, and only with both gone it is there."""
    monkeypatch.setattr(case_module, "trouble_with", lambda code: None)
    assert CaseHeader(code="nul", side="left", finger="ring")
    with pytest.raises(ExportError), fileset.file_set(tmp_path / "outputs", "nul"):
        pytest.fail("must not be entered")
    monkeypatch.setattr(fileset, "is_device", lambda name: False)
    with fileset.file_set(tmp_path / "outputs", "nul") as folder:
        (folder / "a.stl").touch()
    assert (tmp_path / "outputs" / "nul" / "a.stl").exists()


def test_names_of_devices() -> None:
    assert all(map(is_device, ["con", "Con", "NUL.toml", "com1", "LPT9.tar.gz"]))
    assert not any(map(is_device, ["", "conn", "com", "com10", "xnul", "PY-CON"]))


# --- what links and names in the output folder could do ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "place", ["out", "out/PY-900", *map(in_ci, ("out/.PY-900.new", "out/.PY-900.old", "out/.PY-900.lock"))]
)
def test_a_link_leads_no_build_out_of_its_folder(place: str, case: Path, tmp_path: Path, capsys) -> None:
    """Whatever is a link already, what it leads to keeps its files."""
    far = tmp_path / "far"
    far.mkdir()
    (far / "notes.txt").write_text("mine")
    link = tmp_path / place
    link.parent.mkdir(exist_ok=True)
    link.symlink_to(
        far / "notes.txt" if place.endswith("lock") else far, target_is_directory=not place.endswith("lock")
    )
    with pytest.raises(SystemExit) as end:
        main(["build", str(case), "--out", str(tmp_path / "out"), "--formats", "stl"])
    kept = content(far)
    assert kept["notes.txt"] == b"mine"
    if place == "out":  # a link to the whole output folder is the user's own wish
        assert end.value.code == 0
    else:
        assert set(kept) == {"notes.txt"}


def test_a_record_writes_only_where_it_is_told(tmp_path: Path, capsys) -> None:
    path = tmp_path / "r.json"
    path.write_text(record("remade_from.case.code", "../../climbed"), encoding="utf-8")
    with pytest.raises(SystemExit) as end:
        main(["remake", str(path), "--out", str(tmp_path / "out")])
    assert end.value.code == 2
    assert [each.name for each in tmp_path.iterdir()] == ["r.json"]


def test_an_unfinished_file_of_another_kind_is_no_obstacle(tmp_path: Path, capsys) -> None:
    """What a killed build left, of whatever kind, gives way to the next one."""
    (tmp_path / "case.toml").write_text(case_text(MALLET), encoding="utf-8")
    out = tmp_path / "out"
    (out / ".PY-900.new" / "deep").mkdir(parents=True)
    (out / ".PY-900.new" / "deep" / "half.stl").write_text("half")
    (out / ".PY-900.old").mkdir()
    (out / ".PY-900.old" / "mallet.stl").write_text("old")
    with pytest.raises(SystemExit):
        main(["build", str(tmp_path / "case.toml"), "--out", str(out), "--formats", "json"])
    assert set(content(out)) >= {"PY-900/findings.json", "PY-900/.print3d-files"}
    assert [path.name for path in out.iterdir() if path.is_dir()] == ["PY-900"]
