"""From an injury to an orthosis: each published protocol is reached, nothing is suggested for nonsense, every figure has a source."""

import itertools
import json
import re
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from print3d import flow
from print3d.built import shape_and_check
from print3d.cli.main import main
from print3d.errors import InputError
from print3d.guidance.models import SOURCED, STAGES
from print3d.guidance.suggest import Asked, GuidanceAnswer, suggest
from print3d.guidance.tables import SHIPPED, Guidance, read_guidance, read_step_rules
from print3d.inputs.case import Case
from print3d.inputs.cautions import CAUTIONS, FRESH_TENDON
from print3d.inputs.libraries import Libraries
from print3d.kinds.registry import KINDS

NOWHERE = Path("no such folder")


@pytest.fixture(scope="module")
def guidance() -> Guidance:
    return read_guidance(Libraries())


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]):
    """Return a function that runs the command line and returns its exit code, output and error output."""

    def command(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as end:
            main([str(each) for each in arguments])
        printed = capsys.readouterr()
        return int(end.value.code or 0), printed.out, printed.err

    return command


# --- published protocols ----------------------------------------------------------------------------------------------


class Row(NamedTuple):
    """What is asked, and what a published protocol answers first."""

    asked: Asked
    kind: str
    angles: dict[str, float]
    source: str
    mark: str


PIP_DEFICIT, DIP_BEYOND = "pip_passive_extension_deficit_deg", "dip_passive_hyperextension_deg"
BRIGHAM = "Brigham and Women's Hospital, extensor tendon protocol 2020"
PUBLISHED = [
    # Brigham and Women's Hospital 2020: DIP 0 to 10 hyperextension; at most a third of the passive range
    Row(Asked("mallet", passive={DIP_BEYOND: 12.0}), "mallet", {"dip_hyperextension_deg": 4}, BRIGHAM, "seen"),
    Row(Asked("extensor 2", passive={DIP_BEYOND: 8.0}), "mallet", {"dip_hyperextension_deg": 2}, BRIGHAM, "seen"),
    # the same protocol: a bony mallet at 0
    Row(Asked("extensor I", signs=("bony mallet",), passive={DIP_BEYOND: 12.0}), "mallet", {"dip_hyperextension_deg": 0}, BRIGHAM, "seen"),
    # the same protocol: a swan neck that develops takes a dorsal PIP block at 30
    Row(Asked("extensor zone I", signs=("swan neck developing",)), "mallet_with_pip_block", {"pip_flexion_deg": 30}, BRIGHAM, "seen"),
    # Eaton, Electronic Textbook of Hand Surgery, thr021: PIP 0 for 6 weeks
    Row(Asked("boutonniere"), "pip_extension", {"pip_flexion_deg": 0}, "thr021", "seen"),
    # thr022: chronic is over 3 weeks; first regain passive extension
    Row(Asked("extensor III", "chronic", passive={PIP_DEFICIT: 35.0}), "pip_extension", {"pip_flexion_deg": 35}, "thr022", "seen"),
    # Merritt and Howell, Rehabilitation of the Hand, ch. 107: injured finger 15 to 20 more extended
    Row(Asked("sagittal band"), "relative_motion", {"mcp_difference_deg": 20}, "chapter 107", "seen"),
    Row(Asked("extensor VI"), "relative_motion", {"mcp_difference_deg": 20}, "chapter 107", "seen"),
    Row(Asked("extensor VII"), "relative_motion", {"mcp_difference_deg": 20}, "chapter 107", "seen"),
    # Peck et al. 2014, Hand Ther, doi 10.1177/1758998314533306: control arm wrist 0, MCP block 30, IP 0
    Row(Asked("flexor II"), "dorsal_blocking", {"wrist_flexion_deg": 0, "mcp_flexion_deg": 30, "ip_flexion_deg": 0}, "10.1177/1758998314533306", "seen"),
    # common practice, from memory: zones III to V wrist 0, MCP 50 to 70
    Row(Asked("flexor 4"), "dorsal_blocking", {"wrist_flexion_deg": 0, "mcp_flexion_deg": 60}, "common practice", "memory"),
    # common practice, from memory: PIP extension stopped at 5 to 20
    Row(Asked("swan neck", "chronic"), "figure_of_eight", {"pip_flexion_deg": 10}, "common practice", "memory"),
]  # fmt: skip


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row.asked.injury} {row.asked.stage}")
def test_first_is_what_the_published_protocol_says(row: Row, guidance: Guidance) -> None:
    first = suggest(row.asked, guidance).candidates[0]
    angles = {angle.key: angle for angle in first.angles}
    assert first.suggestion.head.kind == row.kind
    assert {key: angles[key].value for key in row.angles} == row.angles
    decisive = angles[next(reversed(row.angles))]
    assert row.source in decisive.source
    assert decisive.mark == row.mark


def test_every_kind_is_reached(guidance: Guidance) -> None:
    assert {row.kind for row in PUBLISHED} == set(KINDS)


def test_chronic_boutonniere_takes_relative_motion_once_better_than_20(guidance: Guidance) -> None:
    """Merritt and Howell, ch. 107: first better than 20, then relative motion with the finger more flexed."""

    def kinds(deficit: float) -> list[str]:
        advice = suggest(Asked("extensor III", "chronic", passive={PIP_DEFICIT: deficit}), guidance)
        return [each.suggestion.head.kind for each in advice.candidates]

    assert kinds(19.0) == ["pip_extension", "relative_motion"]
    assert kinds(20.0) == ["pip_extension"]
    assert kinds(3.0) == ["pip_extension", "relative_motion", "figure_of_eight"]


@pytest.mark.parametrize(("passive", "most"), [(20.0, 6.0), (16.0, 5.0), (12.0, 4.0), (8.0, 2.0), (0.0, 0.0)])
def test_mallet_stays_within_a_third_of_the_passive_range(
    passive: float, most: float, guidance: Guidance
) -> None:
    """At half of it the skin turned pale on average (Rayan and Mullins 1987, J Hand Surg Am 12(4):548-552), in whole degrees."""
    first = suggest(Asked("mallet", passive={DIP_BEYOND: passive}), guidance).candidates[0]
    assert 0.0 <= float(first.orthosis["dip_hyperextension_deg"]) <= most


def test_dip_is_straight_until_its_passive_range_is_measured(guidance: Guidance) -> None:
    first = suggest(Asked("mallet"), guidance).candidates[0]
    assert first.orthosis["dip_hyperextension_deg"] == 0.0


def test_a_series_never_starts_past_the_passive_limit(guidance: Guidance) -> None:
    for deficit in (*np.arange(0.0, 21.0), 12.5, 60.0):
        advice = suggest(Asked("boutonniere", "chronic", passive={PIP_DEFICIT: deficit}), guidance)
        assert advice.candidates[0].orthosis["pip_flexion_deg"] == deficit


# --- nonsense and red flags -------------------------------------------------------------------------------------------


def everything(guidance: Guidance) -> list[GuidanceAnswer]:
    """All injuries, stages and pairs of signs that can be said of them."""
    found = []
    for injury, stage in itertools.product(guidance.injuries, STAGES):
        signs = [name for name, sign in guidance.signs.items() if injury in (sign.injuries or (injury,))]
        for pair in [(), *itertools.combinations(signs, 1), *itertools.combinations(signs, 2)]:
            found.append(suggest(Asked(injury, stage, signs=pair), guidance))
    return found


def test_no_orthosis_for_another_tendon(guidance: Guidance) -> None:
    """Dorsal blocking guards flexors and would stretch nothing else; every other kind is for the extensor side."""
    advices = everything(guidance)
    for advice in advices:
        kinds = {each.suggestion.head.kind for each in advice.candidates}
        if advice.name.startswith("flexor"):
            assert kinds <= {"dorsal_blocking"}
        else:
            assert "dorsal_blocking" not in kinds
        if "thumb" in advice.name or advice.name == "extensor VIII":
            assert not kinds
    assert len(advices) > 1000


def test_nothing_suggested_always_says_whom_to_ask(guidance: Guidance) -> None:
    empty = [advice for advice in everything(guidance) if not advice.candidates]
    assert empty
    assert all(advice.refer_on for advice in empty)


def test_an_old_flexor_injury_gets_no_orthosis(guidance: Guidance) -> None:
    advice = suggest(Asked("flexor II", "chronic"), guidance)
    assert not advice.candidates
    assert "hand therapist or surgeon decides" in advice.refer_on[-1]


@pytest.mark.parametrize("deficit", [6.0, 40.0])
def test_an_acute_boutonniere_that_does_not_come_straight_is_referred_on(
    deficit: float, guidance: Guidance
) -> None:
    advice = suggest(Asked("boutonniere", passive={PIP_DEFICIT: deficit}), guidance)
    assert not advice.candidates
    assert len(advice.left_out) == 2
    assert "a hand therapist decides" in advice.refer_on[-1]


RED_FLAGS = [
    ("mallet", "open wound"), ("boutonniere", "infected"), ("mallet", "subluxation"), ("boutonniere", "no passive extension"),
    ("extensor V", "fracture"), ("swan neck", "spastic"), ("flexor II", "unrepaired"), ("extensor III", "dislocation"), ("flexor I", "numb"),
]  # fmt: skip


@pytest.mark.parametrize(("injury", "sign"), RED_FLAGS)
def test_a_red_flag_stops_and_refers_on(injury: str, sign: str, guidance: Guidance) -> None:
    advice = suggest(Asked(injury, signs=(sign,)), guidance)
    assert advice.stops
    assert not advice.candidates
    assert any("surgeon" in text or "therapist" in text for text in advice.refer_on)
    assert suggest(Asked(injury), guidance).candidates


def test_a_child_is_referred_on_by_age(guidance: Guidance) -> None:
    child, adult = (suggest(Asked("mallet", age_years=age), guidance) for age in (9.0, 16.0))
    assert child.signs == ("child",)
    assert any("treats children" in text for text in child.refer_on)
    assert not adult.refer_on


def test_every_fresh_tendon_injury_says_who_decides(guidance: Guidance) -> None:
    for name in guidance.injuries:
        expected = () if name == "swan neck" else (FRESH_TENDON,)
        assert suggest(Asked(name, "acute"), guidance).says_first == expected
        assert suggest(Asked(name, "chronic"), guidance).says_first == ()
    assert "hand therapist and the surgeon's protocol decide" in FRESH_TENDON


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (Asked("flexor IX"), r'zone = "IX": known zones of flexor tendons are I, II, III, IV, V, thumb'),
        (Asked("extensor"), r'zone = "": known zones of extensor tendons are I,'),
        (Asked("malet finger"), 'the nearest is "mallet finger"'),
        (Asked("butonniere"), 'the nearest is "boutonniere"'),
        (Asked("flexer II"), 'injury = "flexer II".*the nearest is "flexor II"'),
        (Asked("mallet", signs=("open wund",)), 'sign = "open wund".*the nearest is "open wound"'),
        (Asked("mallet", "accute"), 'stage = "accute".*the nearest is "acute"'),
        (Asked("mallet", finger="midle"), 'finger = "midle".*the nearest is "middle"'),
        (
            Asked("flexor II", signs=("swan neck developing",)),
            "does not go with flexor II; it is said of extensor I",
        ),
        (Asked("extensor III", signs=("unrepaired flexor",)), "does not go with extensor III"),
        (
            Asked("mallet", passive={DIP_BEYOND: 95.0}),
            f"{DIP_BEYOND} = 95: accepted is a number from 0 to 70 degrees",
        ),
        (
            Asked("boutonniere", passive={PIP_DEFICIT: 60.0, "pip_max_flexion_deg": 40.0}),
            "at most 40 goes with",
        ),
    ],
)
def test_what_is_not_understood_is_refused_with_the_nearest_known(
    asked: Asked, message: str, guidance: Guidance
) -> None:
    with pytest.raises(InputError, match=message):
        suggest(asked, guidance)


def test_all_unknown_words_are_named_at_once(guidance: Guidance) -> None:
    with pytest.raises(InputError) as refused:
        suggest(Asked("malet", "old", "toe", ("itch",)), guidance)
    assert [line.split()[1] for line in str(refused.value).splitlines()] == [
        "injury",
        "sign",
        "stage",
        "finger",
    ]


@pytest.mark.parametrize("words", ["mallet", "extensor I", "extensor", "flexor 2", "flexor thumb"])
def test_a_thumb_is_referred_on_whatever_it_is_called(words: str, guidance: Guidance) -> None:
    advice = suggest(Asked(words, finger="thumb"), guidance)
    assert advice.name in ("extensor thumb", "flexor thumb")
    assert not advice.candidates
    assert "No kind of orthosis here is for the thumb" in advice.refer_on[0]


@pytest.mark.parametrize(
    "words", ["extensor III", "extensor tendon zone 3", "Extensor zone iii", "central-slip", "Boutonniere"]
)
def test_the_same_injury_in_other_words(words: str, guidance: Guidance) -> None:
    assert suggest(Asked(words), guidance).name == "extensor III"


# --- the data ---------------------------------------------------------------------------------------------------------


def test_every_figure_names_source_and_mark(guidance: Guidance) -> None:
    shown = [
        angle for advice in everything(guidance)[:200] for each in advice.candidates for angle in each.angles
    ]
    assert shown
    assert all(len(angle.source) > 5 and angle.mark in ("seen", "memory") for angle in shown)
    assert {rule.step_deg.mark for rule in read_step_rules(Libraries()).values()} == {"memory"}


SOUND = """
[night_ring]
title = "Ring at night"
kind = "figure_of_eight"
order = 1
injuries = ["swan neck"]
stages = ["chronic"]
holds = "PIP"
free = "flexion"
reasons = ["Own practice."]
refer = ["Pain."]
[night_ring.figures.pip_flexion_deg]
title = "stopped at"
value = 15
source = "own clinic's protocol"
mark = "seen"
"""


def override(folder: Path, text: str, name: str = "suggestions.toml") -> Path:
    (folder / "guidance").mkdir()
    (folder / "guidance" / name).write_text(text, encoding="utf-8")
    return folder


def test_a_clinic_adds_a_suggestion_and_replaces_one(tmp_path: Path) -> None:
    own = SOUND + SOUND.replace("night_ring", "swan_neck_ring").replace("value = 15", "value = 18").replace(
        "order = 1", "order = 2"
    )
    advice = suggest(
        Asked("swan neck", "chronic"), read_guidance(Libraries.of_folder(override(tmp_path, own)))
    )
    assert [each.orthosis["pip_flexion_deg"] for each in advice.candidates] == [15.0, 18.0]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            ('"Own practice."', '"Bends by 20 degrees."'),
            r"night_ring.reasons = .*: a sentence with a figure names its source",
        ),
        (('kind = "figure_of_eight"', 'kind = "figure_of_nine"'), 'the nearest is "figure_of_eight"'),
        (('["swan neck"]', '["swan nek"]'), 'night_ring.injuries = "swan nek".*the nearest is "swan neck"'),
        (
            ("value = 15", "value = 60"),
            "night_ring.options.pip_flexion_deg = 60: accepted is a number from 0 to 45 degrees",
        ),
        (
            ("value = 15", "value = 15\nlow = 20"),
            "night_ring.figures.pip_flexion_deg.value = 15: at least low = 20",
        ),
        (('source = "own clinic\'s protocol"', ""), "night_ring.figures.pip_flexion_deg.source is missing"),
        (('mark = "seen"', 'mark = "sure"'), "night_ring.figures.pip_flexion_deg.mark"),
        (('refer = ["Pain."]', ""), "night_ring.refer is missing"),
        (('["chronic"]', '["old"]'), r"night_ring.stages\[0\] = \"old\""),
        (("order = 1", "order = 1\nwithout_signs = ['fevr']"), "night_ring.without_signs"),
        (("order = 1", "ordr = 1"), "the nearest is night_ring.order|the nearest is order"),
    ],
)
def test_a_faulty_file_of_a_clinic_is_refused(change: tuple[str, str], message: str, tmp_path: Path) -> None:
    assert change[0] in SOUND
    with pytest.raises(InputError, match=message):
        read_guidance(Libraries.of_folder(override(tmp_path, SOUND.replace(*change))))


def test_a_red_flag_without_advice_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cramp.refer_on.*says whom to ask"):
        read_guidance(
            Libraries.of_folder(override(tmp_path, '[cramp]\ntitle = "Cramp"\nstops = true', "signs.toml"))
        )


def test_a_clinic_says_what_it_measures(tmp_path: Path) -> None:
    own = '[mallet]\ndip_girth_mm = "needed"\nhand_length_mm = "useful"'
    measures = read_guidance(Libraries.of_folder(override(tmp_path, own, "measures.toml"))).measures
    assert [(each.key, each.need) for each in measures["mallet"]] == [
        ("dip_girth_mm", "needed"),
        ("hand_length_mm", "useful"),
    ]
    assert measures["pip_extension"] == KINDS["pip_extension"].measures


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ('[malet]\ndip_girth_mm = "needed"', 'the nearest is "mallet"'),
        ('[mallet]\ndip_girt_mm = "needed"', "mallet.dip_girt_mm.*dip_girth_mm"),
        ('[mallet]\ndip_girth_mm = "neded"', 'mallet.dip_girth_mm = "neded".*"needed"'),
    ],
)
def test_a_faulty_table_of_measures_is_refused(table: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=message):
        read_guidance(Libraries.of_folder(override(tmp_path, table, "measures.toml")))


def without_comments(path: Path) -> str:
    return re.sub(r"^#.*$", "", path.read_text(encoding="utf-8"), flags=re.M)


def test_shipped_sentences_name_only_known_marks() -> None:
    """A bracket with a slip in its mark would be printed as it stands instead of as a number."""
    for path in SHIPPED.glob("*.toml"):
        for bracket in re.findall(r"\[[^\]\"=]*; [^\]\"]*\]", without_comments(path)):
            assert SOURCED.fullmatch(bracket), f"{path.name}: {bracket}"


# --- the command ------------------------------------------------------------------------------------------------------


def test_the_page_says_first_who_decides_and_ends_with_the_cautions(run) -> None:
    code, out, _ = run("suggest", "boutonniere", "--finger", "ring")
    flat = " ".join(out.split())
    places = [
        flat.index(text)
        for text in (
            "boutonniere",
            FRESH_TENDON,
            "1. PIP extension",
            "2. Relative motion",
            "SOURCES",
            *CAUTIONS,
        )
    ]
    assert code == 0
    assert places == sorted(places)


def test_what_is_from_memory_says_so_on_the_spot(run) -> None:
    _, out, _ = run("suggest", "swan", "neck")
    assert re.search(r"flexion 10 degrees \(published 5 to 20\) \[\d+, from memory\]", " ".join(out.split()))


def test_a_red_flag_ends_with_1_and_unknown_words_with_2(run) -> None:
    code, out, _ = run("suggest", "mallet", "--sign", "pus")
    assert code == 1
    assert "REFER ON: nothing is suggested" in out
    code, out, err = run("suggest", "malet")
    assert (code, out) == (2, "")
    assert "the nearest is" in err


def test_json_says_the_same_as_the_page(run) -> None:
    _, out, _ = run("suggest", "flexor", "II", "--json")
    data = json.loads(out)
    assert data["says_first"] == [FRESH_TENDON]
    assert [each["protocol"] for each in data["orthoses"]][:2] == ["early_active", "early_active_short"]
    assert all(figure["source"] and figure["mark"] for each in data["orthoses"] for figure in each["figures"])


def test_a_case_needs_side_finger_and_a_free_name(run, tmp_path: Path) -> None:
    path = tmp_path / "PY-090.toml"
    path.write_text("mine")
    code, _, err = run("suggest", "mallet", "--write", path, "--choose", 3, "--code", "A. Name")
    assert code == 2
    assert all(word in err for word in ("--code", "--side", "--finger", "--choose", "is there already"))
    assert path.read_text() == "mine"


def test_a_series_is_not_started_without_the_measured_angle(run, tmp_path: Path) -> None:
    path = tmp_path / "PY-091.toml"
    asked = (
        "suggest",
        "boutonniere",
        "--stage",
        "chronic",
        "--finger",
        "ring",
        "--side",
        "right",
        "--write",
        path,
    )
    code, _, err = run(*asked)
    assert (code, path.exists()) == (2, False)
    assert "--pip-lacks is missing" in err
    code, _, _ = run(*asked, "--pip-lacks", 35)
    assert code == 0
    started = path.read_text(encoding="utf-8")
    assert "pip_passive_extension_deficit_deg = 35" in started
    assert "pip_flexion_deg = 35" in started
    path.write_text(fill_in(started), encoding="utf-8")
    code, out, _ = run("series", path, "--plan-only")
    assert code == 0
    assert "Today the PIP gives 35° of flexion, the goal is 0°: 6 orthoses in steps of at most 7.5°" in out


@pytest.mark.parametrize(
    ("injury", "options", "said"),
    [
        ("boutonniere", (), "protected = true "),
        ("boutonniere", ("--stage", "chronic", "--pip-lacks", 35), "protected = false "),
        ("boutonniere", ("--stage", "chronic", "--pip-lacks", 0), "protected = true "),
        ("mallet", (), None),
        ("swan neck", (), None),
    ],
)
def test_a_started_case_says_whether_it_may_come_off(run, tmp_path: Path, injury: str, options, said) -> None:
    """Fresh, or late and straight again: protected; while a contracture is stretched it comes off for exercises. Else the kind decides."""
    path = tmp_path / "PY-092.toml"
    code, _, _ = run("suggest", injury, *options, "--finger", "ring", "--side", "right", "--write", path)
    assert code == 0
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("protected")]
    assert [line[: len(said or "")] for line in lines] == ([said] if said else [])


def test_a_started_case_gets_its_folder_and_no_advice_to_start_one(run, tmp_path: Path) -> None:
    path = tmp_path / "params" / "cases" / "PY 092.toml"
    asked = ("suggest", "mallet", "--finger", "ring", "--side", "left")
    code, out, _ = run(*asked, "--write", path, "--code", "PY-092")
    assert (code, path.exists()) == (0, True)
    assert "To start a case file" not in out
    assert out.rstrip().endswith(f'print3d build "{path}"')
    assert "To start a case file" in run(*asked)[1]


@pytest.mark.parametrize("way", [(), ("--json",)])
def test_what_is_suggested_is_said_even_if_it_cannot_be_written(
    way: tuple[str, ...], run, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("mine")
    asked = ("suggest", "mallet", "--finger", "ring", "--side", "left", *way)
    code, out, err = run(*asked, "--write", tmp_path / "file" / "PY-092.toml")
    assert (code, "cannot be written" in err) == (2, True)
    if way:
        said = json.loads(out)
        assert (said["orthoses"][0]["title"], said["wrote"], len(said["problems"])) == (
            "Mallet orthosis",
            None,
            1,
        )
    else:
        assert "1. Mallet orthosis" in out
        assert "To start a case file" not in out


def test_no_case_is_started_against_a_red_flag(run, tmp_path: Path) -> None:
    path = tmp_path / "PY-090.toml"
    code, _, _ = run(
        "suggest", "mallet", "--sign", "infection", "--side", "left", "--finger", "ring", "--write", path
    )
    assert code == 1
    assert not path.exists()


TAPE: dict[str, Any] = {
    "hand_length_mm": 180, "hand_breadth_mm": 78, "hand_girth_mm": 187, "wrist_girth_mm": 155, "forearm_girth_mm": 250,
    "forearm_length_mm": 240, "proximal_girth_mm": 60, "pip_girth_mm": 61, "middle_girth_mm": 54, "dip_girth_mm": 50,
    "nail_fold_girth_mm": 47, "web_crease_to_pip_crease_mm": 25, "pip_crease_to_dip_crease_mm": 24, "dip_crease_to_tip_mm": 26,
}  # fmt: skip


def fill_in(started: str) -> str:
    """Write what the tape gave over every 0."""
    return re.sub(r"^(\w+) = 0(?=  # )", lambda found: f"{found[1]} = {TAPE[found[1]]}", started, flags=re.M)


STARTED = {
    "mallet": ("mallet",),
    "mallet_with_pip_block": ("mallet", "--sign", "swan neck developing"),
    "pip_extension": ("boutonniere",),
    "figure_of_eight": ("swan", "neck"),
    "relative_motion": ("extensor", "V"),
    "dorsal_blocking": ("flexor", "II", "--choose", 2),
}


@pytest.fixture
def filled(run, tmp_path: Path):
    """Return a function that starts a case of a kind, sees it refused while empty, and fills in what the tape gave."""

    def fill(kind: str) -> Case:
        path = tmp_path / "PY-090.toml"
        code, _, _ = run(
            "suggest",
            *STARTED[kind],
            "--finger",
            "middle",
            "--side",
            "left",
            "--dip-beyond",
            12,
            "--write",
            path,
        )
        assert code == 0
        started = path.read_text(encoding="utf-8")
        empty = re.findall(r"^(\w+) = 0  # ", started, flags=re.M)
        asked = [each for each in KINDS[kind].measures if not each.is_only_over_the_wrist]
        needed = {each.key for each in asked if each.is_needed}
        assert {*empty} == needed - {
            DIP_BEYOND
        }  # each once, or for each finger of a yoke (`test_one_list.py`)
        rest = re.findall(r"^# (\w+) = 0  # ", started, flags=re.M)
        assert {*empty, *rest, DIP_BEYOND} == {each.key for each in asked} | {DIP_BEYOND}
        with pytest.raises(InputError) as refused:
            flow.read(path)
        assert len(str(refused.value).splitlines()) == len(empty)
        full = re.sub(
            r"^(\w+) = 0(?=  # )", lambda found: f"{found[1]} = {TAPE[found[1]]}", started, flags=re.M
        )
        path.write_text(full, encoding="utf-8")
        return flow.read(path)

    return fill


@pytest.mark.parametrize("kind", KINDS)
def test_a_started_case_is_refused_until_it_is_filled_in_and_builds_then(kind: str, filled) -> None:
    case = filled(kind)
    assert (case.orthosis.kind, case.header.code, case.header.side) == (kind, "PY-090", "left")
    assert KINDS[kind].build(case).parts


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_a_started_case_passes_every_check(kind: str, filled) -> None:
    result = shape_and_check(filled(kind))
    assert [finding.key for finding in result.findings if not finding.holds] == []
