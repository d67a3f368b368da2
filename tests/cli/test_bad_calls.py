"""Every wrong call of `bad_calls.py`: exit 2, one helpful message, no traceback, and not one byte of any file changed."""

import json
import shlex
from collections import Counter
from pathlib import Path

import pytest

from print3d.cli.main import app, main
from tests.cli.bad_calls import CALLS, Call, sound_files, text_of

SOUND = {name: text.encode() for name, text in sound_files().items()}


def laid_out(folder: Path, call: Call) -> None:
    """Write the files of a call."""
    for name, content in {
        **SOUND,
        **{name: text_of(name, each) for name, each in call.files.items()},
    }.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def content(folder: Path) -> dict[str, bytes | None]:
    """Return relative path -> bytes of every file, None for a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


@pytest.mark.parametrize("call", CALLS, ids=lambda call: f"{call.line.split(' ')[0]}-{call.name}")
def test_a_wrong_call_is_refused_and_leaves_no_trace(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    laid_out(tmp_path, call)
    monkeypatch.chdir(tmp_path)
    before = content(tmp_path)
    with pytest.raises(SystemExit) as end:
        main(shlex.split(call.line))
    printed = capsys.readouterr()
    assert end.value.code == 2
    assert [word for word in call.words if word not in printed.err] == []
    assert "Traceback" not in printed.err
    assert max(map(len, printed.err.splitlines())) < 3600  # a screen, not a flood
    assert printed.err.replace("\n", "").isprintable()
    if call.line.startswith("suggest ") and "--write" in call.line:
        assert printed.out == "" or "Caution: " in printed.out  # what is suggested is said all the same
    else:
        assert printed.out == "" or "error" in json.dumps(json.loads(printed.out))
    assert content(tmp_path) == before


def test_every_command_is_misused() -> None:
    commands = {
        (each.name or each.callback.__name__).replace("_", "-")
        for each in app.registered_commands
        if each.callback
    }
    seen = Counter(call.line.split(" ")[0] for call in CALLS)
    assert not {name: seen[name] for name in commands if seen[name] < (3 if name == "schema" else 10)}
    assert len(CALLS) >= 250
    assert len({(call.line, str(call.files)) for call in CALLS}) == len(CALLS)


def test_two_models_of_one_code_do_not_replace_each_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from print3d.training import build
    from print3d.training import make as flow

    monkeypatch.setattr(flow, "build_case", lambda case, *_, **__: build.Model(case, {}, (), None, None))
    laid_out(
        tmp_path,
        Call("", "", (), {"cases/model-2.toml": {"case.code": '"py-900"', "model.label": '"second"'}}),
    )
    paths = [str(tmp_path / "cases" / name) for name in ("model.toml", "model-2.toml")]
    with pytest.raises(SystemExit) as end:
        main(["model", *paths, "--formats", "json", "--out", str(tmp_path / "new")])
    assert end.value.code == 2
    assert f"{paths[0]} has it too" in capsys.readouterr().err
    assert "second" not in (tmp_path / "new" / "PY-900" / "findings.json").read_text(encoding="utf-8")
