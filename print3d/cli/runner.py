"""One case after the other: progress, refusals, Ctrl-C, and what is printed at the end."""

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import typer

from print3d.cli.console import FAILS, HOLDS, REFUSED, STOPPED, Progress, complain, progress_of, refused_case
from print3d.errors import Print3dError
from print3d.language.catalogue import Language, lines, text


@dataclass(frozen=True)
class CaseOutcome:
    """What became of one case.

    holds : whether all its checks hold
    language : of the case
    data : for programs
    show : prints it for people
    """

    holds: bool
    language: Language
    data: dict[str, object]
    show: Callable[[], None]


@dataclass(frozen=True)
class CaseList:
    """What is done with all cases.

    name : of the list of cases in JSON
    has_cautions : whether the cautions of an orthosis are said at the end
    """

    name: str
    has_cautions: bool


ORTHOSES = CaseList("cases", has_cautions=True)
MODELS = CaseList("models", has_cautions=False)


@contextmanager
def stoppable(words: str) -> Iterator[None]:
    """Say in words what Ctrl-C leaves behind, and end with the exit code of that."""
    try:
        yield
    except KeyboardInterrupt:
        complain(words)
        raise typer.Exit(STOPPED) from None


def run_cases(
    paths: Sequence[Path],
    one: Callable[[Path, Progress], CaseOutcome],
    kind: CaseList,
    *,
    as_json: bool,
) -> None:
    """Do `one` for each case, report each, and exit with the worst code. A refused case stops no other."""
    worst, reports, languages = HOLDS, list[dict[str, object]](), dict[Language, None]()
    for path in paths:
        outcome = _outcome(path, one, quiet=as_json)
        if isinstance(outcome, Print3dError):
            worst = REFUSED
            reports.append(refused_case(path, outcome))
            continue
        worst = max(worst, HOLDS if outcome.holds else FAILS)
        languages[outcome.language] = None  # in the order of the cases
        reports.append({"case": str(path), **outcome.data})
        if not as_json:
            outcome.show()
    if as_json:
        more = {"cautions": _cautions(languages or ["en"])} if kind.has_cautions else {}
        print(json.dumps({kind.name: reports, **more}, indent=2))
    elif kind.has_cautions:
        for language in languages:
            head = text("cautions.head", language)
            print("\n".join(f"{head}: {caution}" for caution in _cautions([language])))
    raise typer.Exit(worst)


def _outcome(
    path: Path, one: Callable[[Path, Progress], CaseOutcome], *, quiet: bool
) -> CaseOutcome | Print3dError:
    try:
        with (
            stoppable(f"{path}: stopped; no file of this case was changed"),
            progress_of(path.name, quiet=quiet) as progress,
        ):
            return one(path, progress)
    # guard: a refusal of one case
    except Print3dError as error:
        return error


def _cautions(languages: Sequence[Language] | dict[Language, None]) -> list[str]:
    return [caution for language in languages for caution in lines("cautions.all", language)]
