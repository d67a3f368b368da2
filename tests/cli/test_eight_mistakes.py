"""Eight mistakes of measuring: each changes the first line of the output, where the sound case has a plain verdict."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from print3d.cli.main import main
from print3d.language.catalogue import LANGUAGES
from tests.inputs.bad_cases import case_text

HOLDS, FAILS, REFUSED = 0, 1, 2
SIZES = {
    "proximal_girth_mm": "64", "pip_girth_mm": "71", "middle_girth_mm": "61", "dip_girth_mm": "56",
    "web_crease_to_pip_crease_mm": "26", "pip_crease_to_dip_crease_mm": "25", "dip_crease_to_tip_mm": "28",
}  # fmt: skip
"""A middle finger with a swollen PIP."""
SOUND: dict[str, str | None] = {f"measured.middle.{key}": value for key, value in SIZES.items()} | {
    "measured.wrist_girth_mm": "172",
    "measured.hand_length_mm": "193",
    "orthosis.wear_hours_per_day": "8",
}
NOTHING: dict[str, str | None] = {
    **dict.fromkeys(f"measured.middle.{key}" for key in SIZES),
    "measured.wrist_girth_mm": None,
    "measured.hand_length_mm": None,
}
OTHER: dict[str, str | None] = {
    **{f"measured.middle.{key}": None for key in SIZES},
    **{f"measured.ring.{key}": value for key, value in SIZES.items()},
}


def girths(**mm: int) -> dict[str, str | None]:
    return {f"measured.middle.{key}_girth_mm": str(value) for key, value in mm.items()}


MISTAKES: dict[str, tuple[Mapping[str, str | None], int, str]] = {
    "nothing measured": (NOTHING, REFUSED, "measured.middle is missing"),
    "another finger measured": (OTHER, REFUSED, "[measured.ring] found, case.finger is middle"),
    "PIP and DIP swapped": (girths(pip=56, dip=71), REFUSED, "measured.middle.dip_girth_mm = 71"),
    "proximal and PIP swapped": (girths(proximal=71, pip=64), FAILS, "fail"),
    "PIP and middle swapped": (girths(pip=61, middle=71), FAILS, "fail"),
    "a length read as another": ({"measured.middle.web_crease_to_pip_crease_mm": "45"}, FAILS, "fail"),
    "digits turned": (girths(middle=51), FAILS, "fail"),
    "one girth alone": (
        {f"measured.middle.{key}": None for key in SIZES if key != "pip_girth_mm"},
        HOLDS,
        "to watch",
    ),
}


def first_line(
    edits: Mapping[str, str | None], folder: Path, capsys: pytest.CaptureFixture[str], language: str = "en"
) -> tuple[int, str]:
    path = folder / "case.toml"
    path.write_text(case_text({**SOUND, **edits, "case.language": f'"{language}"'}), encoding="utf-8")
    with pytest.raises(SystemExit) as end:
        main(["check", str(path)])
    printed = capsys.readouterr()
    return int(end.value.code or 0), (printed.out + printed.err).splitlines()[0]


QUICK = [name for name, (_, code, _) in MISTAKES.items() if code == REFUSED]


@pytest.mark.parametrize("name", QUICK)
def test_what_cannot_be_built_is_named(name: str, tmp_path: Path, capsys) -> None:
    edits, code, said = MISTAKES[name]
    found, line = first_line(edits, tmp_path, capsys)
    assert found == code
    assert said in line


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize("language", LANGUAGES)
def test_each_mistake_changes_the_first_line(language: str, tmp_path: Path, capsys) -> None:
    code, sound = first_line({}, tmp_path, capsys, language)
    assert code == HOLDS
    for name, (edits, expected, said) in MISTAKES.items():
        found, line = first_line(edits, tmp_path, capsys, language)
        assert found == expected, name
        assert line != sound, name
        assert said in line or language != "en", name
