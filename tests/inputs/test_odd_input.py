"""Random nonsense for every reader of files and options: what comes out is a result, or one refusal that can be printed."""

import json
import tomllib
from collections.abc import Callable, Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from print3d.cli.console import formats_of
from print3d.cli.sensitivity import _read_clearances
from print3d.errors import InputError, Print3dError
from print3d.guidance import tables
from print3d.guidance.suggest import Asked, suggest
from print3d.guidance.tables import SHIPPED, read_guidance
from print3d.inputs.class_list import read_class_list
from print3d.inputs.libraries import Libraries
from print3d.inputs.materials import DATA
from print3d.inputs.model_case import model_case_from_data
from print3d.kinds.registry import KINDS
from print3d.language.message import as_it_stands
from print3d.output.record.record import case_of_record, read_record
from print3d.studies.series_plan import Request, read_plan, read_remeasured
from print3d.studies.variants import read_variants, read_vary
from tests.cli.bad_calls import record, sound_files
from tests.conftest import in_ci

cheap = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
OPTIONS = {name: kind.options for name, kind in KINDS.items()}
ODD = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(-(10**20), 10**20), st.floats(), st.text(max_size=20),
        st.sampled_from(["petg", "mallet", "", "\x00", "../..", "nul", 10**400, "\u202e", "\ud800"]),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)  # fmt: skip
TEXTS = st.text(max_size=40) | st.text("=,.[]{}\"'0123456789_abcdegilmnprtw\n-+", max_size=40)


def refused_or(ask: Callable[[], Any]) -> Any:
    """Return what comes out, or None if it is refused with lines that say something and can be printed."""
    try:
        return ask()
    except InputError as refusal:
        lines = str(refusal).split("\n")
        assert all(line.isprintable() for line in lines), lines
        assert all(len(line) > 15 for line in lines)
        return None


def places(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the path of every value in tables and lists."""
    for key, value in data.items() if isinstance(data, dict) else enumerate(data):
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from places(value, (*path, key))


def changed(data: Any) -> st.SearchStrategy[Any]:
    """Sound data in which one to three values, of whatever depth, became something odd."""

    def change(edits: list[tuple[tuple[Any, ...], Any]]) -> Any:
        made = deepcopy(data)
        for path, value in edits:
            table = made
            for key in path[:-1]:
                table = table[key] if isinstance(table, dict) and key in table else None
            if isinstance(table, dict):
                table[path[-1]] = value
        return made

    one = st.tuples(st.sampled_from(list(places(data))), ODD)
    return st.lists(one, min_size=1, max_size=3).map(change)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("odd")
    for name, text in sound_files().items():
        (made / name).parent.mkdir(parents=True, exist_ok=True)
        (made / name).write_text(text, encoding="utf-8")
    return made


@cheap
@given(changed(json.loads(record())))
def test_any_record(folder: Path, data: Any) -> None:
    path = folder / "changed.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    refused_or(lambda: case_of_record(read_record(path), OPTIONS, path))


@cheap
@given(st.binary(max_size=80) | st.text('[]{}":,0123456789eE+-.truefalsn ', max_size=60).map(str.encode))
def test_any_bytes_for_a_record(folder: Path, content: bytes) -> None:
    path = folder / "bytes.json"
    path.write_bytes(content)
    assert refused_or(lambda: read_record(path)) is None


@cheap
@given(changed(tomllib.loads(sound_files()["cases/model.toml"])))
def test_any_model_case(folder: Path, data: Any) -> None:
    refused_or(lambda: model_case_from_data(data, folder / "cases" / "model.toml"))


@cheap
@given(
    st.binary(max_size=80)
    | st.text('case.code,;"\n\r\t T-1', max_size=80).map(lambda text: f"case.code,{text}".encode())
)
@example(b"case.code\n\x00")
def test_any_class_list(folder: Path, content: bytes) -> None:
    path = folder / "list.csv"
    path.write_bytes(content)
    for row in (
        refused_or(lambda: read_class_list(path, {"print": {"material": "petg", "printer": "extrusion"}}))
        or []
    ):
        refused_or(lambda row=row: model_case_from_data(row.data, Path(row.place)))


@cheap
@given(
    changed(tomllib.loads("[[models]]\ncase = { code = 'T-1' }\n[defaults]\nprint = { material = 'petg' }\n"))
)
def test_any_class_list_of_tables(folder: Path, data: Any) -> None:
    from print3d.inputs import class_list

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(class_list, "read_toml", lambda path: data)
        for row in refused_or(lambda: read_class_list(folder / "list.toml", {})) or []:
            assert isinstance(row.code, str)
            refused_or(lambda row=row: model_case_from_data(row.data, Path(row.place)))


@cheap
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["wall_mm", "", "case.code", "measured.middle", "print.material"]) | TEXTS, TEXTS
        ),
        max_size=2,
    ),
    st.booleans(),
)
@example([("wall_mm", "9" * 5000)], False)
@example([("wall_mm", "[" * 3000)], False)
def test_any_variation(folder: Path, varied: list[tuple[str, str]], paired: bool) -> None:
    def ask() -> Any:
        each = [read_vary(f"{key}={values}") for key, values in varied]
        return read_variants([folder / "cases" / "case.toml"], each, OPTIONS, paired=paired)

    refused_or(ask)


@cheap
@given(
    TEXTS | st.sampled_from(["pip_flexion_deg=nan", "pip_flexion_deg=30"]),
    st.floats(),
    st.floats(),
    st.floats(),
)
def test_any_series(folder: Path, again: str, goal: float, step: float, margin: float) -> None:
    request = Request(goal, step, margin, None, refused_or(lambda: read_remeasured(again)))
    plan = refused_or(lambda: read_plan(folder / "cases" / "steps.toml", OPTIONS, request))
    assert plan is None or all(0.0 <= each.angle_deg <= 90.0 for each in plan.steps)


@cheap
@given(TEXTS)
def test_any_list_of_clearances_or_formats(text: str) -> None:
    refused_or(lambda: _read_clearances(text))
    refused_or(lambda: formats_of(text))


@cheap
@given(
    TEXTS | st.sampled_from(["mallet", "extensor iii", "flexor", "extensor thumb"]), TEXTS | st.just("acute"),
    st.none() | st.sampled_from(["ring", "thumb"]) | TEXTS, st.lists(TEXTS, max_size=2), st.floats(), st.floats(),
)  # fmt: skip
def test_any_question(
    injury: str, stage: str, finger: str | None, signs: list[str], lacks: float, age: float
) -> None:
    passive = {"pip_passive_extension_deficit_deg": lacks}
    asked = Asked(injury, stage, finger, tuple(signs), passive, age)
    refused_or(lambda: suggest(asked, GUIDANCE))


GUIDANCE = read_guidance(Libraries())


def few(path: Path) -> dict[str, Any]:
    """Return the first two entries of a shipped file."""
    return dict(list(tomllib.loads(path.read_text(encoding="utf-8")).items())[:2])


@cheap
@given(st.data())
@pytest.mark.parametrize("name", ["injuries", in_ci("signs"), in_ci("suggestions")])
def test_any_guidance_of_a_clinic(name: str, folder: Path, data: st.DataObject) -> None:
    own, real = folder / "guidance" / f"{name}.toml", tables.read_toml
    own.parent.mkdir(exist_ok=True)
    own.touch()
    odd = data.draw(changed(few(SHIPPED / f"{name}.toml")))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tables, "read_toml", lambda path: odd if path == own else real(path))
        guidance = refused_or(lambda: read_guidance(Libraries.of_folder(folder)))
        if guidance is not None:
            refused_or(lambda: suggest(Asked("mallet"), guidance))
    own.unlink()


@cheap
@given(st.data())
@pytest.mark.parametrize("name", ["materials", "printers"])
def test_any_shelf_of_a_clinic(name: str, data: st.DataObject) -> None:
    from print3d.inputs import materials

    odd = data.draw(changed(few(DATA / f"{name}.toml")))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(materials, "read_toml", lambda path: odd)
        model = {"materials": materials.Material, "printers": materials.Printer}[name]
        refused_or(lambda: materials._entries(Path("own.toml"), model))


def test_a_reader_that_let_a_mistake_through_would_be_seen() -> None:
    """The planted fault: an error of our own is no refusal, and a refusal that cannot be printed is none either."""
    with pytest.raises(TypeError):
        refused_or(lambda: len(3))  # type: ignore[arg-type]
    with pytest.raises(AssertionError):
        refused_or(
            lambda: (_ for _ in ()).throw(InputError(as_it_stands("case.toml: code = \x1b[31m: no code")))
        )
    with pytest.raises(Print3dError):
        refused_or(lambda: (_ for _ in ()).throw(Print3dError("of another room")))
