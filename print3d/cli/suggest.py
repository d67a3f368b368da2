"""`print3d suggest`: injury and findings in, orthoses with angles and sources out, or to whom to refer on."""

import json
import shutil
import textwrap
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from print3d.cli.console import FAILS, HOLDS, AsJson, number_option
from print3d.errors import ExportError, InputError, Print3dError
from print3d.inputs.cautions import CAUTIONS
from print3d.inputs.folder_name import trouble_with
from print3d.inputs.libraries import Libraries
from print3d.inputs.problems import MISSING, Problem
from print3d.language.message import message

if TYPE_CHECKING:
    from print3d.guidance.sources import Sources
    from print3d.guidance.suggest import Angle, Asked, Candidate, GuidanceAnswer
    from print3d.guidance.tables import Guidance

PARAMS = Path("params")
MOST_COLUMNS = 110
"""Letters in a line of the terminal; longer ones are hard to read; own choice."""
FLAGS = {
    "pip_passive_extension_deficit_deg": "--pip-lacks",
    "pip_max_flexion_deg": "--pip-bends",
    "dip_passive_hyperextension_deg": "--dip-beyond",
}
"""Measured angle of a case file -> the option that gives it."""
SHELF = "Folder whose guidance/ and protocols/ hold a clinic's own tables."

Side = Annotated[str | None, typer.Option(help="With --write: left or right.")]


def suggest(
    injury: Annotated[
        list[str], typer.Argument(metavar="INJURY...", help="Such as: extensor III, flexor 2, mallet, swan neck.")
    ],
    stage: Annotated[str, typer.Option(help="acute, or chronic: over 3 weeks.")] = "acute",
    finger: Annotated[str | None, typer.Option(help="index, middle, ring, little or thumb.")] = None,
    sign: Annotated[list[str] | None, typer.Option(help="What else was found, such as: swan neck developing, bony mallet, open wound; may be repeated.")] = None,
    age: Annotated[float | None, number_option("Years.", least=0, most=120)] = None,
    pip_lacks: Annotated[float | None, number_option("What the PIP, gently extended by hand, lacks of straight, degrees.")] = None,
    pip_bends: Annotated[float | None, number_option("Greatest PIP flexion, degrees.")] = None,
    dip_beyond: Annotated[float | None, number_option("How far the DIP, gently extended by hand, goes beyond straight, degrees.")] = None,
    write: Annotated[Path | None, typer.Option(help="Start this case file from the first orthosis, or from --choose.")] = None,
    choose: Annotated[int, typer.Option(help="With --write: number of the orthosis in the list.", min=1)] = 1,
    code: Annotated[str | None, typer.Option(help="With --write: code of the case; else the file's name.")] = None,
    side: Side = None,
    params: Annotated[Path, typer.Option(help=SHELF)] = PARAMS,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """Suggest orthoses for an injury, in order, with the source of every figure.

    Exit 0: suggested, 1: nothing suits, refer on, 2: a word is not known.
    """
    from print3d.guidance.suggest import Asked, suggest
    from print3d.guidance.tables import read_guidance

    passive = dict(zip(FLAGS, (pip_lacks, pip_bends, dip_beyond), strict=True))
    measured = {key: float(value) for key, value in passive.items() if value is not None}
    asked = Asked(" ".join(injury), stage, finger, tuple(sign or ()), measured, age)
    guidance = read_guidance(Libraries.of_folder(params))
    advice = suggest(asked, guidance)
    wrote, trouble = None, None
    try:
        wrote = None if write is None else _start(write, advice, asked, (code, side, choose), guidance)
    # guard: a suggestion is said also where its case cannot be written
    except Print3dError as error:
        trouble = error
    if as_json:
        print(json.dumps(_as_json(advice, wrote, trouble), indent=2, ensure_ascii=False))
    else:
        print("\n".join(_page(advice, is_to_write=write is None)))
        if wrote is not None:
            name = f'"{wrote}"' if " " in str(wrote) else wrote
            print(f"\nwrote {wrote}: fill in every 0 in [measured], then: print3d build {name}")
    if trouble is not None:
        raise trouble
    raise typer.Exit(HOLDS if advice.candidates else FAILS)


# --- a case file ------------------------------------------------------------------------------------------------------


def _start(
    path: Path,
    advice: "GuidanceAnswer",
    asked: "Asked",
    chosen: tuple[str | None, str | None, int],
    guidance: "Guidance",
) -> Path | None:
    """Write the case file of the chosen orthosis. Returns None if nothing is suggested: then there is nothing to write."""
    from print3d.guidance.started_case import Head, started_case
    from print3d.inputs.measured import FINGERS

    if not advice.candidates:
        return None
    code, side, number = chosen[0] or path.stem, chosen[1], chosen[2]
    problems = list(_missing(path, advice, asked, (code, side, number)))
    if problems:
        raise InputError(*(problem.of("suggest") for problem in problems))
    (finger,) = [name for name in FINGERS if name == advice.finger]
    head = Head(code, str(side), finger)
    text = started_case(advice, advice.candidates[number - 1], head, asked.passive, guidance)
    unfinished = path.with_name(f".{path.name}.new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished.write_text(text, encoding="utf-8")
        unfinished.replace(path)
    except OSError as error:
        with suppress(OSError):
            # guard: full disk: a started case
            unfinished.unlink(missing_ok=True)
        reason = str(error.strerror)
        raise ExportError(message("refusals.output.unwritable", file=str(path), reason=reason)) from error
    return path


def _missing(
    path: Path, advice: "GuidanceAnswer", asked: "Asked", chosen: tuple[str, str | None, int]
) -> Iterator[Problem]:
    """Yield what a case file cannot be started without."""
    code, side, number = chosen
    if side not in ("left", "right"):
        yield Problem("--side", side or MISSING, message("refusals.suggest.side"))
    if asked.finger is None:
        yield Problem("--finger", MISSING, message("refusals.suggest.finger"))
    if wanted := trouble_with(code):
        yield Problem("--code", code, message("refusals.suggest.code", what=wanted))
    # guard: a file that is there
    if path.exists():
        yield Problem("--write", str(path), message("refusals.suggest.is_there"))
    if number > len(advice.candidates):
        yield Problem("--choose", number, message("refusals.suggest.choose", most=len(advice.candidates)))
        return
    for figure in advice.candidates[number - 1].suggestion.figures.values():
        if figure.least_of is not None and figure.least_of not in asked.passive:
            yield Problem(FLAGS[figure.least_of], MISSING, message("refusals.suggest.measure_first"))


# --- a page to read ---------------------------------------------------------------------------------------------------


def _page(advice: "GuidanceAnswer", *, is_to_write: bool) -> Iterator[str]:
    from print3d.guidance.sources import Sources

    sources = Sources()
    finger = f", {advice.finger} finger" if advice.finger not in (None, "thumb") else ""
    yield f"{advice.injury.title}, {advice.stage}{finger}"
    for text in advice.says_first:
        yield from _wrapped("", text)
    if advice.refer_on:
        yield ""
        yield "REFER ON" + ("" if advice.candidates else ": nothing is suggested")
        yield from _listed(advice.refer_on, sources)
    for number, candidate in enumerate(advice.candidates, 1):
        yield ""
        yield from _candidate(number, candidate, sources)
    if advice.left_out:
        yield ""
        yield "NOT SUGGESTED, by the measured joint"
        yield from _listed(advice.left_out, sources)
    listed = list(sources.listed())
    if listed:
        yield ""
        yield "SOURCES (seen: read there; memory: remembered, verify before use)"
    for number, text in listed:
        yield from _wrapped(f"  {number:2}  ", text)
    yield ""
    for text in CAUTIONS:
        yield from _wrapped("", f"Caution: {text}")
    if advice.candidates and is_to_write:
        yield ""
        yield "To start a case file, add: --finger FINGER --side SIDE --choose NUMBER --write CASE.toml"


def _candidate(number: int, candidate: "Candidate", sources: "Sources") -> Iterator[str]:
    head = candidate.suggestion.head
    yield f"{number}. {head.title}"
    rows = {
        "holds": [head.holds],
        "stays free": [head.free],
        "figures": [_angle(angle, sources) for angle in candidate.angles],
        "why": head.reasons,
        "take care": candidate.cautions,
        "refer on": head.refer,
        "then": ["print3d series CASE.toml plans and builds the steps"] if head.in_steps else [],
        "case file": [", ".join(f"{key} = {_plain(value)}" for key, value in candidate.orthosis.items())],
    }
    for name, texts in rows.items():
        for place, text in enumerate(texts):
            yield from _wrapped(f"   {'' if place else name:12}", sources.cited(text))


def _angle(angle: "Angle", sources: "Sources") -> str:
    value = "" if angle.value is None else f" {angle.value:g} {angle.unit}".rstrip()
    has_span = angle.low is not None and angle.high is not None
    span = f" (published {angle.low:g} to {angle.high:g})" if has_span else ""
    remark = f"; {angle.remark}" if angle.remark else ""
    return f"{angle.title}{value}{span}{remark} {sources.number(angle.source, angle.mark)}"


def _plain(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _listed(texts: Iterable[str], sources: "Sources") -> Iterator[str]:
    for text in texts:
        yield from _wrapped("  - ", sources.cited(text))


def _wrapped(first: str, text: str) -> list[str]:
    width = min(shutil.get_terminal_size((MOST_COLUMNS, 40)).columns, MOST_COLUMNS)
    return textwrap.wrap(
        text, max(width, 40), initial_indent=first, subsequent_indent=" " * len(first), break_long_words=False
    )


def _as_json(advice: "GuidanceAnswer", wrote: Path | None, trouble: Print3dError | None) -> dict[str, Any]:
    return {
        "injury": advice.name,
        "title": advice.injury.title,
        "stage": advice.stage,
        "finger": advice.finger,
        "signs": list(advice.signs),
        "stops": advice.stops,
        "says_first": list(advice.says_first),
        "refer_on": list(advice.refer_on),
        "orthoses": [
            {
                "name": each.suggestion.name,
                **each.suggestion.head.model_dump(include={"title", "kind", "protocol", "in_steps", "holds", "free", "reasons", "refer"}),
                "orthosis": dict(each.orthosis),
                "figures": [asdict(angle) for angle in each.angles],
                "cautions": list(each.cautions),
            }
            for each in advice.candidates
        ],
        "left_out": list(advice.left_out),
        "wrote": None if wrote is None else str(wrote),
        "problems": [] if trouble is None else trouble.as_data(),
        "cautions": CAUTIONS,
    }  # fmt: skip
