"""Where files go if nobody says where: beside the case, or beside the library that it lies in."""

from pathlib import Path

import pytest

from print3d.cli.console import outputs_of
from print3d.cli.main import main
from tests.cli.bad_calls import LIST, model_text, record
from tests.inputs.bad_cases import case_text

PLACES = [
    ("clinic/params/cases/a.toml", "clinic/outputs"),
    ("clinic/params/list.csv", "clinic/outputs"),
    ("clinic/params/models/a.toml", "clinic/outputs"),
    ("desk/a.toml", "desk/outputs"),
    ("a.toml", "outputs"),
    ("clinic/outputs/PY-900/record.json", "clinic/outputs"),
    ("clinic/outputs/PY-900/series/step_01/case.toml", "clinic/outputs"),
]


@pytest.mark.parametrize(("file", "outputs"), PLACES)
def test_outputs_lie_beside_the_case(
    file: str, outputs: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From wherever it is called; inside the present folder it is shown as seen from there."""
    (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
    monkeypatch.chdir(tmp_path)
    assert outputs_of(Path(file)) == Path(outputs)
    assert outputs_of(tmp_path / file) == Path(outputs)
    monkeypatch.chdir((tmp_path / file).parent)
    assert (
        outputs_of(Path(file).relative_to(Path(file).parent)).absolute()
        == outputs_of(tmp_path / file).absolute()
    )
    assert outputs_of(tmp_path / file).absolute() == tmp_path / outputs


CALLS = {
    "build": ("case.toml", case_text({}), "PY-900"),
    "series": ("case.toml", case_text({"measured.middle.pip_passive_extension_deficit_deg": "40", "orthosis.pip_flexion_deg": "40"}), "PY-900"),
    "compare --vary wall_mm=2,2.5": ("case.toml", case_text({}), "compare-PY-900"),
    "sensitivity": ("case.toml", case_text({}), "sensitivity-PY-900"),
    "model": ("model.toml", model_text({}), "PY-900"),
    "class-set": ("list.csv", LIST, "list"),
    "remake": ("record.json", record(), "remade/PY-014"),
}  # fmt: skip


@pytest.mark.parametrize("call", CALLS)
def test_every_command_writes_there(
    call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file lies where its folder should be, so that each is refused before anything is built, and names the place."""
    name, content, folder = CALLS[call]
    home = tmp_path / "clinic" / "params" / "cases"
    home.mkdir(parents=True)
    (home / name).write_text(content, encoding="utf-8")
    in_the_way = tmp_path / "clinic" / "outputs" / folder
    in_the_way.parent.mkdir(parents=True)
    in_the_way.write_text("mine")
    monkeypatch.chdir(tmp_path)
    command, _, options = call.partition(" ")
    with pytest.raises(SystemExit) as end:
        main([command, str(home / name), *options.split()])
    assert end.value.code == 2
    assert str(Path("clinic") / "outputs" / folder) in capsys.readouterr().err
    assert in_the_way.read_text() == "mine"
