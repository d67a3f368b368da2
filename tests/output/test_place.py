"""No part gives way unseen to another, and no two shapes carry the same letters, whatever is built in whatever order."""

import json
import os
import random
import sys
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from print3d import flow
from print3d.built import Built
from print3d.cli.compare import write as write_study
from print3d.errors import ExportError, InputError
from print3d.forms.limb_of_case import case_label
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.model_case import ModelCase, read_model_case
from print3d.inputs.part_mark import LAST_VISIT, PartMark, by_age, revision_after
from print3d.output.files import write_set
from print3d.output.fileset import EARLIER, file_set
from print3d.output.place import (
    STAMP,
    for_place,
    is_same,
    kept_as,
    shape_for_place,
    standing_at,
    write_stamp,
)
from print3d.output.record.record import stamp_of
from print3d.output.training.model_files import stamp_of_model
from print3d.studies.files import Files
from print3d.training.stand import labels_of
from tests.checks.made import made
from tests.conftest import CASES
from tests.inputs.bad_cases import MALLET, case_text
from tests.shaped import changed, written_of

MODELS = CASES.parent / "models"
STL = frozenset({"stl"})
HOLDS = (made("wall.thinnest", 2.0, 0.8),)
CORNERS = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=float)
FACES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])


def shape(case: Case) -> Built:
    """Stands for the build: a body whose shape follows from the girth, the side and the letters, as that of a real part does."""
    girth = case.measured.finger(case.header.finger).pip_girth_mm or 1.0
    letters = sum(place * ord(each) for place, each in enumerate(case_label(case), 1))
    side = -1.0 if case.header.side == "left" else 1.0
    meshes = {"part": Mesh(CORNERS * [girth, side * letters, 1.0], FACES)}
    built = written_of(case, HOLDS, meshes)
    one = replace(built.modelled, parts=(SimpleNamespace(name="part"),))
    return changed(built, modelled=one, meshes=meshes, plans=())


@cache
def worked() -> Case:
    return flow.read(CASES / "pip_extension.toml")


def case_of(girth: float = 67.0, visit: int = 1, **header: Any) -> Case:
    case = worked()
    finger = case.measured.middle.model_copy(update={"pip_girth_mm": girth})
    return replace(
        case,
        header=case.header.model_copy(update={"visit": visit, **header}),
        measured=case.measured.model_copy(update={"middle": finger}),
    )


def build(out: Path, case: Case, *, is_replacing: bool = False) -> Built:
    built = shape_for_place(case, out, shape, is_replacing=is_replacing)
    write_set(built, out, STL)
    return built


def stamps(out: Path) -> Iterator[tuple[Path, Mapping[str, Any]]]:
    for path in sorted(out.rglob(STAMP)):
        yield path.parent.relative_to(out), json.loads(path.read_text(encoding="utf-8"))


def shapes_by_letters(out: Path) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for _, stamp in stamps(out):
        found.setdefault(stamp["mark"], set()).add(stamp["parts"]["part"]["sha256"])
    return found


# --- marks ------------------------------------------------------------------------------------------------------------


def test_marks_are_all_different_and_name_folders() -> None:
    """Codes that look like marks of others among them."""
    codes = ("PY-1", "PY-1-2", "PY-12", "PY-1a", "PY-1_2")
    marks = [
        PartMark(code, visit, revision, step)
        for code in codes
        for visit in (1, 2, 12, LAST_VISIT)
        for revision in ("", "a", "b", "aa")
        for step in (None, 1, 2, 12)
    ]
    assert len(set(map(str, marks))) == len({mark.folder for mark in marks}) == len(marks)
    assert len({mark.place for mark in marks}) == len(codes) * 4
    for mark in marks:
        assert mark.folder.startswith(mark.place.split(".")[0])


def test_a_first_visit_keeps_the_letters_that_it_always_had(tmp_path: Path) -> None:
    assert case_label(case_of()) == "PY-014 R →"
    assert case_label(case_of(visit=2)) == "PY-014.2 R →"
    assert case_label(replace(case_of(), revision="a")) == "PY-014.1a R →"
    assert case_label(replace(case_of(visit=2), step=9)) == "PY-014.2/9 R →"


def test_revisions_never_end() -> None:
    found, revision = [], ""
    for _ in range(800):
        revision = revision_after(revision)
        found.append(revision)
    assert found[:2] == ["a", "b"]
    assert (found[25], found[26], found[701], found[702]) == ("z", "aa", "zz", "aaa")
    assert sorted(found, key=by_age) == found
    assert len(set(found)) == len(found)


# --- one place --------------------------------------------------------------------------------------------------------


def test_the_same_shape_is_built_again_as_it_was(tmp_path: Path) -> None:
    build(tmp_path, case_of())
    before = (tmp_path / "PY-014" / "pip_extension.stl").read_bytes()
    build(tmp_path, case_of())
    build(tmp_path, case_of(note="another word"), is_replacing=True)
    assert (tmp_path / "PY-014" / "pip_extension.stl").read_bytes() == before
    assert not (tmp_path / "PY-014" / EARLIER).exists()


def test_another_shape_is_refused_and_both_are_named(tmp_path: Path) -> None:
    build(tmp_path, case_of())
    before = {path: path.read_bytes() for path in (tmp_path / "PY-014").iterdir()}
    with pytest.raises(InputError) as refused:
        build(tmp_path, case_of(69.0))
    assert {path: path.read_bytes() for path in (tmp_path / "PY-014").iterdir()} == before
    (problem,) = refused.value.as_data()
    values = problem["wanted"]["values"]
    assert (problem["key"], problem["found"]) == ("case.visit", 1)
    assert (values["mark"], values["corrected"], values["visit"]) == ("PY-014", "PY-014.1a", 2)
    (differs,) = values["differs"]
    assert differs["values"] == {"key": "measured.middle.pip_girth_mm", "now": "69", "there": "67"}
    for language, words in (("en", ("visit = 2", "--replace")), ("de", ("visit = 2", "Termin", "--replace"))):
        said = refused.value.said(language)
        assert all(word in said for word in (*words, "PY-014.1a", "pip_girth_mm = 69", "67"))


def test_two_people_under_one_code_are_told_apart(tmp_path: Path) -> None:
    """Sex, hand, finger or kind: whatever makes another part is named, and the first one's files stay."""
    build(tmp_path, case_of())
    mallet = tmp_path / "mallet.toml"
    mallet.write_text(case_text({**MALLET, "case.code": '"PY-014"', "case.side": '"left"'}), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        build(tmp_path, flow.read(mallet))
    (problem,) = refused.value.as_data()
    named = [each["values"]["key"] for each in problem["wanted"]["values"]["differs"]]
    assert {"case.side", "orthosis.kind", "measured.middle.pip_girth_mm"} <= set(named)
    assert [each for each in named if each.startswith("orthosis.")] == ["orthosis.kind"]
    assert (tmp_path / "PY-014" / "pip_extension.stl").is_file()


def test_a_replacement_gets_a_letter_and_keeps_the_earlier_set(tmp_path: Path) -> None:
    home = tmp_path / "PY-014"
    build(tmp_path, case_of())
    first = (home / "pip_extension.stl").read_bytes()
    (home / "notes.txt").write_text("mine")
    for girth, revision in ((69.0, "a"), (70.0, "b"), (67.0, "c")):
        with pytest.raises(InputError):
            build(tmp_path, case_of(girth))
        assert build(tmp_path, case_of(girth), is_replacing=True).case.revision == revision
    assert (home / EARLIER / "first" / "pip_extension.stl").read_bytes() == first
    assert (
        home / "pip_extension.stl"
    ).read_bytes() != first  # the first shape again, under letters of its own
    assert {path.name for path in (home / EARLIER).iterdir()} == {"first", "a", "b"}
    assert {path.name for path in home.iterdir()} == {
        EARLIER, "notes.txt", "pip_extension.stl", STAMP, ".print3d-files"
    }  # fmt: skip
    assert {name: len(found) for name, found in shapes_by_letters(tmp_path).items()} == {
        "PY-014": 1, "PY-014.1a": 1, "PY-014.1b": 1, "PY-014.1c": 1,
    }  # fmt: skip


def test_the_next_visit_lies_beside_the_first(tmp_path: Path) -> None:
    build(tmp_path, case_of())
    build(tmp_path, case_of(69.0, visit=2))
    with pytest.raises(InputError) as refused:
        build(tmp_path, case_of(70.0))
    assert "visit = 3" in str(refused.value)
    assert [path.as_posix() for path, _ in stamps(tmp_path)] == ["PY-014", "PY-014.2"]
    assert set(shapes_by_letters(tmp_path)) == {"PY-014", "PY-014.2"}


def test_after_the_last_visit_comes_a_new_code(tmp_path: Path) -> None:
    build(tmp_path, case_of(visit=LAST_VISIT))
    with pytest.raises(InputError, match="give the case a new code"):
        build(tmp_path, case_of(69.0, visit=LAST_VISIT))


def test_a_set_of_an_older_program_is_known_by_its_record(tmp_path: Path) -> None:
    built = shape(case_of())
    old: dict[str, Any] = {**stamp_of(built), "format": 2}
    for key in ("mark", "revision", "step"):
        del old[key]
    del old["remade_from"]["case"]["visit"]
    with file_set(tmp_path, "PY-014") as folder:
        (folder / "record.json").write_text(json.dumps(old), encoding="utf-8")
    build(tmp_path, case_of())
    with pytest.raises(InputError, match="pip_girth_mm = 69, there 67"):
        build(tmp_path, case_of(69.0))


@pytest.mark.parametrize("damage", ["gone", "no JSON", "another revision", "no parts"])
def test_a_part_that_nothing_tells_of_stays_too(tmp_path: Path, damage: str) -> None:
    build(tmp_path, case_of())
    stamp = tmp_path / "PY-014" / STAMP
    data = json.loads(stamp.read_text(encoding="utf-8"))
    if damage == "gone":
        stamp.unlink()
    else:
        odd = {"another revision": {**data, "revision": "../x"}, "no parts": {**data, "parts": 5}}
        stamp.write_text(json.dumps(odd.get(damage)) if damage in odd else "{", encoding="utf-8")
    with pytest.raises(InputError, match="nothing there says what"):
        build(tmp_path, case_of())
    build(tmp_path, case_of(), is_replacing=True)
    assert (tmp_path / "PY-014" / EARLIER / "first" / "pip_extension.stl").is_file()


def test_the_program_itself_may_be_what_differs(tmp_path: Path) -> None:
    build(tmp_path, case_of())
    stamp = tmp_path / "PY-014" / STAMP
    data = json.loads(stamp.read_text(encoding="utf-8"))
    data["parts"]["part"]["sha256"], data["versions"]["print3d"] = "0" * 64, "0.0.1"
    stamp.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(InputError, match=r'print3d = .*, there "0.0.1"'):
        build(tmp_path, case_of())


def test_earlier_sets_hold_their_letters_when_the_set_itself_is_gone(tmp_path: Path) -> None:
    build(tmp_path, case_of())
    build(tmp_path, case_of(69.0), is_replacing=True)
    for path in (tmp_path / "PY-014").iterdir():
        if path.is_file():
            path.unlink()
    with pytest.raises(InputError):
        build(tmp_path, case_of(70.0))
    assert build(tmp_path, case_of(70.0), is_replacing=True).case.revision == "a"
    assert {each: len(found) for each, found in shapes_by_letters(tmp_path).items()} == {
        "PY-014": 1,
        "PY-014.1a": 1,
    }


def test_a_writer_that_never_asked_is_refused_under_the_lock(tmp_path: Path) -> None:
    """As from Python, or when another build came in between."""
    build(tmp_path, case_of())
    with pytest.raises(InputError, match="another shape"):
        write_set(shape(case_of(69.0)), tmp_path, STL)
    late = shape(replace(case_of(69.0), revision="a"))
    write_set(late, tmp_path, STL)
    with pytest.raises(InputError, match=r"PY-014\.1a"):
        write_set(shape(replace(case_of(70.0), revision="a")), tmp_path, STL)
    assert standing_at(tmp_path / "PY-014")["revision"] == "a"


@pytest.mark.parametrize("kind", ["a link", "a file"])
def test_what_stands_where_earlier_sets_go_is_no_way_out(tmp_path: Path, kind: str) -> None:
    build(tmp_path, case_of())
    far = tmp_path / "far"
    far.mkdir()
    if kind == "a link":
        (tmp_path / "PY-014" / EARLIER).symlink_to(far, target_is_directory=True)
    else:
        (tmp_path / "PY-014" / EARLIER).write_text("mine")
    with pytest.raises(ExportError, match=kind):
        build(tmp_path, case_of(69.0), is_replacing=True)
    assert not list(far.iterdir())
    assert list(shapes_by_letters(tmp_path)) == ["PY-014"]


def test_a_first_set_that_an_older_one_is_named_like_is_not_overwritten(tmp_path: Path) -> None:
    build(tmp_path, case_of())
    (tmp_path / "PY-014" / EARLIER / "first").mkdir(parents=True)
    (tmp_path / "PY-014" / EARLIER / "first" / "mine.txt").write_text("mine")
    build(tmp_path, case_of(69.0), is_replacing=True)
    kept = tmp_path / "PY-014" / EARLIER
    assert (kept / "first" / "mine.txt").read_text() == "mine"
    assert (kept / "first.kept" / "pip_extension.stl").is_file()


def test_a_model_and_its_orthosis_keep_to_the_same_rule(tmp_path: Path) -> None:
    """Stand and orthosis of a pair carry the letters of its case, so that no orthosis of a patient may stand there."""

    def make(case: ModelCase) -> Any:
        size = sum(map(ord, str(labels_of(case)))) * (1.0 + case.model.scale)
        return SimpleNamespace(case=case, parts={"part": Mesh(CORNERS * size, FACES)})

    def write(case: ModelCase, *, is_replacing: bool = False) -> Any:
        made_of = for_place(case, tmp_path, (make, stamp_of_model), is_replacing=is_replacing)
        stamp = stamp_of_model(made_of)
        with file_set(tmp_path, case.mark.place, partial(kept_as, stamp, case.source)) as folder:
            write_stamp(folder, stamp)
        return made_of

    case = read_model_case(MODELS / "mallet.toml")
    smaller = replace(case, model=case.model.model_copy(update={"scale": 0.5}))
    write(case)
    write(case)
    with pytest.raises(InputError, match=r"model.scale = 0.5, there 1"):
        write(smaller)
    with pytest.raises(InputError, match="another shape"):
        build(tmp_path, case_of(code="PY-T01"))
    assert labels_of(write(smaller, is_replacing=True).case).back.startswith("PY-T01.1a ")
    assert {letters: len(found) for letters, found in shapes_by_letters(tmp_path).items()} == {
        "PY-T01": 1,
        "PY-T01.1a": 1,
    }


def test_a_study_takes_no_parts_place(tmp_path: Path) -> None:
    """A case may be called like the folder of a study; what stands there stays."""
    build(tmp_path, case_of(code="compare-PY-014"))
    with pytest.raises(ExportError, match="compare-PY-014: a part stands there"):
        write_study(Files({"compare.csv": b""}), tmp_path, "compare-PY-014")
    assert list(shapes_by_letters(tmp_path)) == ["compare-PY-014"]
    write_study(Files({"compare.csv": b""}), tmp_path, "compare-PY-015")
    write_study(Files({"compare.csv": b"1"}), tmp_path, "compare-PY-015")
    assert (tmp_path / "compare-PY-015" / "compare.csv").read_bytes() == b"1"


# --- any order --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(3))
def test_no_two_shapes_carry_the_same_letters_over_a_long_history(tmp_path: Path, seed: int) -> None:
    """Visits, corrections, rebuilds, other people under the code, sets that were taken away; every set that was there stays."""
    draw, seen = random.Random(seed), dict[str, set[str]]()
    for _ in range(60):
        case = case_of(
            draw.choice([66.0, 67.0, 68.0]),
            draw.choice([1, 1, 2, 3]),
            code=draw.choice(["PY-1", "PY-1-2", "PY-1_2"]),
            side=draw.choice(["left", "right"]),
        )
        before = shapes_by_letters(tmp_path)
        try:
            build(tmp_path, case, is_replacing=draw.random() < 0.4)
        except InputError:
            assert shapes_by_letters(tmp_path) == before
        after = shapes_by_letters(tmp_path)
        assert all(after[letters] >= shapes for letters, shapes in before.items())
        for letters, shapes in after.items():
            seen.setdefault(letters, set()).update(shapes)
    assert {letters: len(shapes) for letters, shapes in seen.items()} == dict.fromkeys(seen, 1)
    assert len(seen) > 20


def test_the_history_sees_letters_that_repeat(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The planted fault: a replacement that gets no letter."""
    monkeypatch.setattr("print3d.output.place.revision_after", lambda revision: revision)
    monkeypatch.setattr(
        "print3d.output.files.kept_as", lambda new, source, place: "first" if place.exists() else None
    )
    build(tmp_path, case_of())
    build(tmp_path, case_of(69.0), is_replacing=True)
    assert {letters: len(found) for letters, found in shapes_by_letters(tmp_path).items()} == {"PY-014": 2}


# --- killed -----------------------------------------------------------------------------------------------------------

MOMENTS_MOST = 400


@pytest.mark.slow(in_ci=True)
@pytest.mark.skipif(not hasattr(os, "fork"), reason="each moment is a child of this process")
def test_a_replacement_killed_before_any_change_leaves_both_or_the_earlier_alone(tmp_path: Path) -> None:
    """Before every file operation of it: the earlier set is there, at its place or in `earlier`, whole, and the next build goes on."""
    first = shape(case_of())
    moments = 0
    for moment in range(1, MOMENTS_MOST):
        out = tmp_path / str(moment)
        build(out, case_of())
        child = os.fork()
        if child == 0:
            _die_before_change(moment, out)
        _, status = os.waitpid(child, 0)
        with pytest.raises(RuntimeError), file_set(out, "PY-014", lambda _: None):
            raise RuntimeError  # the next build repairs, whatever comes of it
        home = out / "PY-014"
        standing = [
            each for each in (home, home / EARLIER / "first") if each.is_dir() and (each / STAMP).is_file()
        ]
        assert any(is_same(standing_at(each), stamp_of(first)) for each in standing), moment
        assert all((each / "pip_extension.stl").is_file() for each in standing)
        assert {letters: len(found) for letters, found in shapes_by_letters(home).items()} in (
            {"PY-014": 1},
            {"PY-014": 1, "PY-014.1a": 1},
        )
        assert build(out, case_of(69.0), is_replacing=True).case.revision == "a"
        if os.waitstatus_to_exitcode(status) == 0:
            break
        moments += 1
    assert 10 < moments < MOMENTS_MOST - 1


def _die_before_change(moment: int, out: Path) -> None:
    """Replace in a child process that ends before its change number `moment`, whatever comes after."""
    changes = {
        "open",
        "os.rename",
        "os.mkdir",
        "os.remove",
        "os.rmdir",
        "shutil.copyfile",
        "os.utime",
        "os.chmod",
    }
    left = moment

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        nonlocal left
        if event in changes and arguments and str(out) in str(arguments[0]):
            left -= 1
            if left == 0:
                os._exit(9)

    sys.addaudithook(hook)
    try:
        build(out, case_of(69.0), is_replacing=True)
    finally:
        os._exit(0)
