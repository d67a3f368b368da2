"""README.md: its pictures are there, small, made by the tool, one of every kind."""

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from print3d.inputs.toml_file import read_toml
from print3d.kinds.registry import KINDS
from tests.readme_kinds import kinds_table, with_tables
from tests.readme_pictures import FOLDER, MOST_BYTES, ROOT, picture

README = (ROOT / "README.md").read_text(encoding="utf-8")
NAMED = [ROOT / path for path in re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)]


def case_of(path: Path) -> Path:
    return ROOT / "params" / "cases" / f"{path.stem}.toml"


def test_the_tables_say_what_the_kinds_say() -> None:
    """`python -m tests.readme_kinds` writes them again."""
    assert with_tables(README) == README
    assert all(f"| `{name}` |" in kinds_table() for name in KINDS)


def test_every_kind_has_a_picture() -> None:
    assert {read_toml(case_of(path))["orthosis"]["kind"] for path in NAMED} == set(KINDS)


@pytest.mark.parametrize("path", NAMED, ids=lambda path: path.stem)
def test_a_picture_is_there_and_small(path: Path) -> None:
    assert path.parent == FOLDER
    assert path.stat().st_size <= MOST_BYTES
    with Image.open(path) as image:
        assert image.format == "PNG"


def test_no_picture_is_left_over() -> None:
    assert sorted(FOLDER.iterdir()) == sorted(NAMED)


def test_a_picture_is_what_the_tool_makes() -> None:
    """Versions of the picture library may draw letters or choose colours a little differently."""
    (path,) = (each for each in NAMED if each.stem == "mallet")
    kept, made = (
        np.asarray(each.convert("RGB"), dtype=float) for each in (Image.open(path), picture("mallet"))
    )
    assert np.abs(kept - made).mean() < 3.0


def test_every_path_is_there() -> None:
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert links
    assert [link for link in links if "://" not in link and not (ROOT / link).exists()] == []
