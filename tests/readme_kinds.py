"""The tables of kinds in README.md, made from the words of the kinds.

    python -m tests.readme_kinds

Each stands between two marks; a test holds them to what the kinds say.
"""

import re
from pathlib import Path

from print3d.inputs.toml_file import read_toml
from print3d.kinds.registry import KINDS, AnyKind
from print3d.language.catalogue import text

ROOT = Path(__file__).parents[1]
COLUMNS = 2


def kinds_table() -> str:
    """Return a row for each kind: what it is for, holds and frees."""
    rows = ["| kind | for | holds | frees |", "| --- | --- | --- | --- |"]
    for kind in _in_order():
        about = [text(f"kinds.{kind.name}.about.{name}") for name in ("used_for", "holds", "frees")]
        rows.append(f"| `{kind.name}` | {' | '.join(about)} |")
    return "\n".join(rows)


def pictures_table() -> str:
    """Return a picture of each kind."""
    rows = list[str]()
    kinds = _in_order()
    for at in range(0, len(kinds), COLUMNS):
        names, pictures = zip(*(_picture(kind) for kind in kinds[at : at + COLUMNS]), strict=True)
        heads = names if not rows else [f"**{name}**" for name in names]
        rows += [f"| {' | '.join(heads)} |", *(["| --- " * COLUMNS + "|"] if not rows else [])]
        rows.append(f"| {' | '.join(pictures)} |")
    return "\n".join(rows)


def case_of(kind: AnyKind) -> str:
    """Return the worked case that shows a kind: the first of those whose name begins with the kind's."""
    cases = sorted((ROOT / "params" / "cases").glob(f"{kind.name}*.toml"), key=lambda path: path.stem)
    return next(path.stem for path in cases if read_toml(path)["orthosis"]["kind"] == kind.name)


def with_tables(readme: str) -> str:
    """Return the README with both tables as the kinds say them."""
    for mark, table in (("kinds", kinds_table()), ("pictures", pictures_table())):
        readme, n_found = re.subn(
            rf"(<!-- {mark} -->\n).*?(\n<!-- end of {mark} -->)",
            lambda found, table=table: f"{found[1]}{table}{found[2]}",
            readme,
            flags=re.DOTALL,
        )
        assert n_found == 1, mark
    return readme


def _in_order() -> list[AnyKind]:
    """Return the kinds, those that are drawn most often in the sweep first."""
    return sorted(KINDS.values(), key=lambda kind: -kind.sweep.share)


def _picture(kind: AnyKind) -> tuple[str, str]:
    words = text(f"kinds.{kind.name}.about.picture")
    return f"`{kind.name}`", f"![{words}](outputs/pictures/{case_of(kind)}.png)"


if __name__ == "__main__":
    path = ROOT / "README.md"
    path.write_text(with_tables(path.read_text(encoding="utf-8")), encoding="utf-8")
