"""Libraries and fonts that are missing, damaged or do not load: what is missing is said, and what to do."""

import sys
from collections.abc import Callable, Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType

import pytest

from print3d.cli.installation import missing_library
from print3d.cli.main import main
from print3d.errors import InstallationError
from print3d.language import fonts
from tests.faults.conftest import content
from tests.inputs.bad_cases import case_text


class Hidden(MetaPathFinder):
    """An import hook that hides libraries, as if they were not installed."""

    def __init__(self, *names: str) -> None:
        self._names = names

    def find_spec(
        self, fullname: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Raise for a hidden module, as Python does for one that is not there."""
        if fullname.split(".")[0] in self._names:
            raise ModuleNotFoundError(f"No module named {fullname!r}", name=fullname)
        return None


@pytest.fixture
def hide(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Return a function that hides libraries until the test is over."""

    def hide(*names: str) -> None:
        for module in list(sys.modules):
            if module.split(".")[0] in names:
                monkeypatch.delitem(sys.modules, module)
        monkeypatch.setattr(sys, "meta_path", [Hidden(*names), *sys.meta_path])

    return hide


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str]:
    with pytest.raises(SystemExit) as end:
        main([str(each) for each in arguments])
    return int(end.value.code or 0), capsys.readouterr().err


@pytest.mark.parametrize(
    ("library", "package", "formats"),
    [
        ("ngsolve", "ngsolve", "json"), ("lib3mf", "lib3mf", "3mf"), pytest.param("ezdxf", "ezdxf", "pattern", marks=pytest.mark.slow),
        pytest.param("reportlab", "reportlab", "sheets", marks=pytest.mark.slow), ("igl", "libigl", "stl"), ("cadquery", "cadquery", "step"),
    ],
)  # fmt: skip
def test_a_missing_library_is_named_with_its_package(
    library: str, package: str, formats: str, case: Path, tmp_path: Path, hide, capsys, monkeypatch
) -> None:
    for module in [name for name in sys.modules if name.startswith("print3d.") and name != "print3d.errors"]:
        monkeypatch.setitem(sys.modules, module, sys.modules[module])  # as it was, after the test
    for module in ("print3d.shell.solid", "print3d.output.mesh.step", "print3d.output.mesh.threemf"):
        monkeypatch.delitem(sys.modules, module, raising=False)
    before = content(tmp_path)
    hide(library)
    code, message = run(capsys, "build", case, "--out", tmp_path / "out", "--formats", formats)
    assert code == 2
    assert f"{library} is not installed" in message
    assert f"pip install {package}" in message
    assert ("leave STEP out" in message) == (library == "cadquery")
    assert "Traceback" not in message
    assert content(tmp_path) == before


def test_a_cluster_without_its_library(case: Path, tmp_path: Path, hide, capsys) -> None:
    hide("distributed")
    call = [
        "compare",
        case,
        "--vary",
        "wall_mm=2,3",
        "--out",
        tmp_path / "out",
        "--scheduler",
        "tcp://127.0.0.1:8786",
    ]
    code, message = run(capsys, *call)
    assert code == 2
    assert "dask.distributed is not installed" in message
    assert 'pip install "print3d[cluster]"' in message


def test_a_library_that_does_not_load_names_what_the_system_lacks() -> None:
    error = ImportError("libGL.so.1: cannot open shared object file: No such file or directory", name="OCP")
    message = missing_library(error)
    assert message is not None
    assert "OCP needs the system's libGL.so.1" in message
    assert "apt-get install libgl1" in message


def test_a_missing_module_of_our_own_stays_a_traceback() -> None:
    assert missing_library(ModuleNotFoundError("No module named 'print3d.gone'", name="print3d.gone")) is None
    assert missing_library(ImportError("cannot import name 'x'")) is None


def test_without_the_guard_a_missing_library_is_a_traceback(
    case: Path, tmp_path: Path, hide, monkeypatch
) -> None:
    """The planted fault."""
    from print3d.cli import main as cli

    monkeypatch.setattr(cli, "missing_library", lambda error: None)
    hide("ngsolve")
    with pytest.raises(ModuleNotFoundError):
        main(["build", str(case), "--out", str(tmp_path / "out"), "--formats", "stl"])


# --- fonts -----------------------------------------------------------------------------------------------------------------


@pytest.fixture
def font_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder that stands in for matplotlib's, with copies of the fonts."""
    home = tmp_path / "matplotlib"
    (home / fonts.FOLDER).mkdir(parents=True)
    for is_bold in (False, True):
        file = fonts.font_file(is_bold=is_bold)
        (home / fonts.FOLDER / file.name).write_bytes(file.read_bytes())
    monkeypatch.setattr(
        fonts, "find_spec", lambda name: ModuleSpec(name, None, origin=str(home / "__init__.py"))
    )
    fonts.font_file.cache_clear()
    yield home / fonts.FOLDER
    monkeypatch.undo()
    fonts.font_file.cache_clear()


def test_copied_fonts_are_sound(font_folder: Path) -> None:
    assert {fonts.font_file(is_bold=is_bold).parent for is_bold in (False, True)} == {font_folder}


@pytest.mark.parametrize("damage", ["gone", "empty", "cut off", "a bit turned", "a folder", "text"])
def test_a_font_that_cannot_be_used_is_named(damage: str, font_folder: Path) -> None:
    file = font_folder / "DejaVuSans-Bold.ttf"
    sound = file.read_bytes()
    file.unlink()
    turned = bytearray(sound)
    turned[len(sound) // 2] ^= 4
    contents = {
        "empty": b"",
        "cut off": sound[: len(sound) // 2],
        "a bit turned": bytes(turned),
        "text": b"no font",
    }
    if damage == "a folder":
        file.mkdir()
    elif damage != "gone":
        file.write_bytes(contents[damage])
    with pytest.raises(
        InstallationError, match=r"DejaVuSans-Bold.ttf: the font .* pip install --force-reinstall matplotlib"
    ):
        fonts.font_file(is_bold=True)
    assert fonts.font_file() == font_folder / "DejaVuSans.ttf"


def test_a_build_without_its_font_changes_nothing(
    font_folder: Path, case: Path, tmp_path: Path, capsys, monkeypatch
) -> None:
    from print3d.shell import letters

    (font_folder / "DejaVuSans-Bold.ttf").unlink()
    monkeypatch.setattr(letters, "_font", letters._font.__wrapped__)
    letters._glyph.cache_clear()
    before = content(tmp_path)
    case.write_text(case_text({"case.code": '"QXZ-7"'}), encoding="utf-8")
    code, message = run(capsys, "build", case, "--out", tmp_path / "out", "--formats", "stl")
    assert code == 2
    assert (
        "DejaVuSans-Bold.ttf: the font of letters and sheets cannot be read (No such file or directory)"
        in message
    )
    assert set(content(tmp_path)) == set(before)
