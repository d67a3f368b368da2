"""Mistakes that therapists make in files and on the command line: the first line of what is printed names each, in every language."""

import re
import shlex
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from print3d.cli.main import main
from print3d.inputs.finger_words import finger_meant
from print3d.inputs.materials import DATA
from print3d.inputs.measured import FINGERS
from print3d.inputs.toml_file import read_toml
from print3d.language.catalogue import LANGUAGES, text
from tests.cli.bad_calls import LIST, model_text, record
from tests.inputs.bad_cases import case_text

TOML_LIST = "[[models]]\n" + "\n".join(
    line.replace("[", "[models.") for line in model_text({"case.code": '"T-1"'}).split("\n")
)
GUIDANCE = Path("print3d") / "guidance" / "signs.toml"
PROTOCOLS = Path("print3d") / "forms" / "data" / "protocols.toml"
ROOT = Path(__file__).parents[2]
DORSAL = {
    "orthosis.kind": '"dorsal_blocking"',
    "measured.wrist_girth_mm": "174",
    "orthosis.protocol": '"own"',
}


@dataclass(frozen=True)
class Kept:
    """A sort of file that the program reads: where it lies, the call that reads it, what stands in it, the case beside it."""

    path: str
    call: str
    content: Callable[[str], str]
    case: Mapping[str, str]

    @property
    def says_language(self) -> bool:
        """Whether the language is told by this file alone."""
        return self.call.endswith(self.path)


def of(language: str) -> dict[str, str]:
    return {"case.language": f'"{language}"'}


SORTS = [
    Kept("cases/case.toml", "check cases/case.toml", lambda each: case_text(of(each)), {}),
    Kept("cases/model.toml", "model cases/model.toml", lambda each: model_text(of(each)), {}),
    Kept("list.csv", "class-set list.csv --language {language}", lambda each: LIST, {}),
    Kept("list.toml", "class-set list.toml --language {language}", lambda each: TOML_LIST, {}),
    Kept("materials/own.toml", "check cases/case.toml", lambda each: (DATA / "materials.toml").read_text("utf-8"), {}),
    Kept("printers/own.toml", "check cases/case.toml", lambda each: (DATA / "printers.toml").read_text("utf-8"), {}),
    Kept("protocols/own.toml", "check cases/case.toml", lambda each: (ROOT / PROTOCOLS).read_text("utf-8"), DORSAL),
    Kept("guidance/signs.toml", "suggest mallet --params .", lambda each: (ROOT / GUIDANCE).read_text("utf-8"), {}),
    Kept("record.json", "remake record.json", lambda each: record().replace('"language": "en"', f'"language": "{each}"'), {}),
]  # fmt: skip

Spoilt = tuple[bytes, str, dict[str, object]]
"""The bytes of a file with a mistake in it, the key of what is to be said, its values."""


def another_program(head: bytes, name: str) -> Callable[[str], Spoilt]:
    return lambda sound: (head, "refusals.file.foreign", {"format": f"refusals.file.format.{name}"})


def utf16(name: str) -> Callable[[str], Spoilt]:
    return lambda sound: (sound.encode(name), "refusals.file.utf16", {})


def latin1(sound: str) -> Spoilt:
    content = (sound + "\n# für\n").encode("latin-1", "replace")
    values = {"line": content.count(b"\n"), "byte": "0xfc", "letter": "ü"}
    return content, "refusals.file.latin1", values


def line_of(pattern: str, becomes: str, key: str, **values: object) -> Callable[[str], Spoilt]:
    """A mistake in the first line that has the pattern."""

    def spoilt(sound: str) -> Spoilt:
        made = re.sub(pattern, becomes, sound, count=1, flags=re.MULTILINE)
        place = next(
            n
            for n, (old, new) in enumerate(zip(sound.split("\n"), made.split("\n"), strict=True))
            if old != new
        )
        found = made.split("\n")[place].strip()[:60]
        return made.encode(), key, {"line": place + 1, "found": found, **values}

    return spoilt


ENCODED = {
    "a Word file": another_program(b"PK\x03\x04\x14\0\0\0\x08\0 word/document.xml", "word"),
    "an open document": another_program(b"PK\x03\x04mimetypeapplication/vnd.oasis.opendocument.text", "word"),
    "an Excel file": another_program(b"PK\x03\x04\x14\0\0\0\x08\0 xl/workbook.xml", "spreadsheet"),
    "a zip archive": another_program(b"PK\x03\x04\x14\0\0\0\x08\0 photo.jpg", "zip"),
    "an old Word file": another_program(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(60), "old_office"),
    "rich text": another_program(b"{\\rtf1\\ansi case", "rich_text"),
    "a PDF": another_program(b"%PDF-1.7\n%\xe2\xe3", "pdf"),
    "UTF-16": utf16("utf-16"),
    "UTF-16 without mark": utf16("utf-16-le"),
    "UTF-16 of another order": utf16("utf-16-be"),
    "Latin-1": latin1,
}
TYPED = {
    "a leading zero": line_of(r"^(.*= )([1-9]\d*\.?\d*)(.*)$", r"\g<1>0\2\3", "refusals.file.zero"),
    "a decimal comma": line_of(r"^(\S+ = )([1-9]\d*)$", r"\g<1>\2,5", "refusals.file.comma"),
    "curly quotes": line_of(r'^(\w+ = )"(\w[^"]*)"', r"\1“\2”", "refusals.file.curly", quote="“"),
    "one curly quote": line_of(r'^(\w+ = )"(\w[^"]*)"$', r'\1"\2”', "refusals.file.curly", quote="”"),
    "German quotes": line_of(r'^(\w+ = )"(\w[^"]*)"', r"\1„\2“", "refusals.file.curly", quote="„"),
}


def first_line(
    call: str, files: Mapping[str, bytes], folder: Path, capsys: pytest.CaptureFixture[str]
) -> tuple[int, str]:
    """Return exit code and first line of what is printed."""
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    with pytest.raises(SystemExit) as end:
        main(shlex.split(call))
    printed = capsys.readouterr()
    return int(end.value.code or 0), (printed.err or printed.out).split("\n")[0]


def has_room_for(mistake: str, sort: Kept) -> bool:
    """Whether a file has a line that can be typed wrongly so."""
    try:
        return sort.path.endswith(".toml") and bool(TYPED[mistake](sort.content("en")))
    except StopIteration:
        return False


PAIRS = [(sort, mistake) for sort in SORTS for mistake in ENCODED]
PAIRS += [(sort, mistake) for sort in SORTS for mistake in TYPED if has_room_for(mistake, sort)]
ROWS = [(*pair, LANGUAGES[number % len(LANGUAGES)]) for number, pair in enumerate(PAIRS)]
"""Every mistake in every file, the languages taking turns."""


@pytest.fixture(autouse=True)
def in_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize(("sort", "mistake", "language"), ROWS, ids=lambda each: getattr(each, "path", each))
def test_a_mistake_in_a_file_is_named_in_the_first_line(
    sort: Kept, mistake: str, language: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content, key, values = {**ENCODED, **TYPED}[mistake](sort.content(language))
    case = case_text({**of(language), **sort.case}).encode()
    code, said = first_line(
        sort.call.format(language=language), {"cases/case.toml": case, sort.path: content}, tmp_path, capsys
    )
    assert code == 2
    if sort.says_language and b"language" not in content.replace(b"\0", b""):
        language = "en"  # nothing is left that tells
    if sort.call.startswith("suggest"):
        language = "en"
    template = text(key, language, **filled(values, key, language))
    head, _, tail = template.partition("REST")
    assert f"{sort.path}: {head}" in said
    assert said.endswith(tail)


def filled(values: Mapping[str, object], key: str, language: str) -> dict[str, object]:
    """Return all values of a sentence; those that hang on the file in a way that is not told here become REST."""
    made: dict[str, object] = {name: value for name, value in values.items() if name != "format"}
    if "format" in values:
        made["what"] = text(str(values["format"]), language)
    return {"number": "REST", "reason": "REST", **made}


SAID = {
    "a girth in inches": ({"measured.middle.pip_girth_mm": "2.8"}, "in_inches", 71.12),
    "a girth in cm": ({"measured.middle.pip_girth_mm": "7.1"}, "in_cm", 71.0),
    "a length in inches": ({"measured.hand_length_mm": "7.6"}, "in_inches", 193.04),
}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("row", SAID.values(), ids=SAID)
def test_another_unit_is_asked_for(
    row: tuple[dict[str, str], str, float], language: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edits, key, mm = row
    case = case_text({**of(language), **edits}).encode()
    code, said = first_line("check case.toml", {"case.toml": case}, tmp_path, capsys)
    assert (code, said.startswith(f"case.toml: {next(iter(edits))} = ")) == (2, True)
    assert text(f"refusals.{key}", language, mm=mm) in said


def test_no_unit_is_guessed_where_none_fits(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number in ("0", "-3", "0.1", "900"):
        case = case_text({"measured.middle.pip_girth_mm": number}).encode()
        assert "?" not in first_line("check case.toml", {"case.toml": case}, tmp_path, capsys)[1]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("number", ["3", '"3"'])
def test_the_number_of_a_finger_is_named(
    number: str, language: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    case = case_text({**of(language), "case.finger": number}).encode()
    code, said = first_line("check case.toml", {"case.toml": case}, tmp_path, capsys)
    assert code == 2
    listed = ", ".join(f'"{each}"' for each in FINGERS)
    what = text("refusals.accepts.one_of", language, listed=listed)
    wanted = text("refusals.word_not_number", language, what=what)
    assert said == f"case.toml: case.finger = {number}: {wanted}"


WORDS = [
    (word, finger)
    for finger in FINGERS
    for language in LANGUAGES
    for word in text(f"common.finger_words.{finger}", language).split(", ")
]


@pytest.mark.parametrize(
    ("word", "finger"), [*WORDS, ("Middle", "middle"), ("LONG", "middle"), (" ring ", "ring")]
)
def test_words_for_a_finger_are_taken(word: str, finger: str) -> None:
    from print3d.inputs.case_file import case_from_data
    from print3d.kinds.registry import KINDS

    edits = {
        "case.finger": f'"{word}"',
        "measured.middle.pip_girth_mm": None,
        "measured.middle.dip_girth_mm": None,
    }
    data = tomllib.loads(case_text(edits))
    data["measured"][word] = {"pip_girth_mm": 66, "dip_girth_mm": 56}
    case = case_from_data(data, {name: kind.options for name, kind in KINDS.items()}, Path("case.toml"))
    assert case.header.finger == finger
    assert case.measured.finger_measures(case.header.finger) == {"pip_girth_mm": 66, "dip_girth_mm": 56}
    assert any(f"{word} " in note.said("en") for note in case.notes)


def test_words_of_fingers_are_of_one_finger_each_and_no_numbers() -> None:
    assert len({word.lower() for word, _ in WORDS}) == len(WORDS)
    assert {finger_meant(finger) for finger in FINGERS} == set(FINGERS)
    assert not [word for word in ("3", "third", "III", "", "toe", "mid") if finger_meant(word)]
    assert finger_meant("Daumen") == "thumb"


TAKEN = [
    ("suggest extensor III --stage chronic --pip-lacks {} --finger ring --side left --write new.toml", "new.toml", "pip_passive_extension_deficit_deg = 35.5"),
    ("suggest extensor III --stage chronic --pip-lacks 35,5 --finger {} --side left --write new.toml", "new.toml", 'finger = "middle"'),
]  # fmt: skip


@pytest.mark.parametrize(
    ("call", "given"),
    [(TAKEN[0][0], "35,5"), (TAKEN[0][0], "35.5"), (TAKEN[1][0], "Mittelfinger"), (TAKEN[1][0], "long")],
)
def test_an_option_is_taken_as_people_write_it(
    call: str, given: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wanted = next(row[2] for row in TAKEN if row[0] == call)
    code, _ = first_line(call.format(given), {}, tmp_path, capsys)
    assert code == 0
    assert wanted in (tmp_path / "new.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("pip_flexion_deg=27,5", {"pip_passive_extension_deficit_deg": 27.5}),
        ("pip_flexion_deg=27,5,pip_girth_mm=66,5", {"pip_passive_extension_deficit_deg": 27.5, "pip_girth_mm": 66.5}),
        ("pip_flexion_deg = 27 , pip_girth_mm=66.5", {"pip_passive_extension_deficit_deg": 27, "pip_girth_mm": 66.5}),
    ],
)  # fmt: skip
def test_a_decimal_comma_is_taken_in_what_was_measured_again(typed: str, found: dict[str, float]) -> None:
    from print3d.studies.series_plan import read_remeasured

    assert read_remeasured(typed) == found


def test_a_decimal_comma_is_taken_in_a_list_that_is_separated_otherwise(tmp_path: Path) -> None:
    from print3d.inputs.class_list import read_class_list

    (tmp_path / "list.csv").write_text("case.code;measured.ring.pip_girth_mm\nT-1;66,5\n", encoding="utf-8")
    (row,) = read_class_list(tmp_path / "list.csv", {})
    assert row.data["measured"] == {"ring": {"pip_girth_mm": 66.5}}


def test_a_name_with_spaces(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In quotes it is read; without them the first part is named, with the file that it is the beginning of."""
    thin = case_text({"orthosis.wall_mm": "0.1"}).encode()
    code, said = first_line("check 'my case.toml'", {"my case.toml": thin}, tmp_path, capsys)
    assert (code, said.startswith("my case.toml: orthosis.wall_mm = 0.1")) == (2, True)
    code, said = first_line("check my case.toml", {}, tmp_path, capsys)
    assert code == 2
    assert "my case.toml" in said or said.startswith("my: ")
    assert read_toml(tmp_path / "my case.toml")
