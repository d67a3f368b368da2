"""`print3d sheet` and `print3d remake`: what they write, refuse and answer."""

import json
from pathlib import Path

import pytest

from print3d.cli.main import main
from tests.conftest import CASES


def run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as stopped:
        main([str(each) for each in arguments])
    return int(stopped.value.code or 0)


def test_a_form_of_one_kind_with_strips_and_gauges(tmp_path: Path, capsys) -> None:
    assert run("sheet", "mallet", "--out", tmp_path, "--language", "de", "--paper", "letter") == 0
    names = sorted(path.name for path in (tmp_path / "measuring_mallet").glob("*.pdf"))
    assert names == ["girth_strips.pdf", "measuring_form_mallet.pdf", "ring_gauges.pdf"]
    assert all(name in capsys.readouterr().out for name in names[:1])


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("malet",), 'nearest is "mallet"'),
        (("--language", "fr"), '"de", "en"'),
        (("--paper", "a3"), '"a4", "letter"'),
    ],
)
def test_what_there_is_not_is_refused(tmp_path: Path, capsys, arguments, message: str) -> None:
    assert run("sheet", *arguments, "--out", tmp_path) == 2
    assert message in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.slow(in_ci=True)
def test_a_part_is_made_again_and_a_changed_record_is_noticed(tmp_path: Path, capsys) -> None:
    assert run("build", CASES / "figure_of_eight.toml", "--formats", "stl,record", "--out", tmp_path) == 0
    record = tmp_path / "PY-055" / "record.json"
    assert run("remake", record, "--out", tmp_path / "again") == 0
    assert "+ same as the record" in capsys.readouterr().out
    made, again = (
        folder / "figure_of_eight.stl" for folder in (record.parent, tmp_path / "again" / "PY-055")
    )
    assert made.read_bytes() == again.read_bytes()
    data = json.loads(record.read_text(encoding="utf-8"))
    data["remade_from"]["orthosis"]["pip_flexion_deg"] = 12.0
    record.write_text(json.dumps(data), encoding="utf-8")
    assert run("remake", record, "--out", tmp_path / "again") == 1
    assert "x differs from the record" in capsys.readouterr().out
    assert made.read_bytes() == again.read_bytes()  # the same letters on another shape are not written
