"""Shrink a failing case: leave out keys and round numbers while it still fails in the same way."""

from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from typing import Any

Tables = dict[str, Any]
Path = tuple[str, ...]
Question = Callable[[Tables], bool]

NEEDED = {("case",), ("case", "code"), ("case", "side"), ("case", "finger"), ("orthosis",), ("orthosis", "kind"), ("measured",),
          ("print",), ("print", "material"), ("print", "printer")}  # fmt: skip
PLAIN = {
    ("case", "code"): "SW-1",
    ("case", "side"): "right",
    ("print", "material"): "petg",
    ("print", "printer"): "extrusion_large",
}
MOST_TRIALS = 120


def shrink(data: Mapping[str, Any], still_fails: Question, most_trials: int = MOST_TRIALS) -> Tables:
    """Return the smallest tables found that still fail; asks at most `most_trials` times.

    Plain values first, all at once; then whole tables, then keys are left out, until nothing more can go; last, numbers get rounder.
    """
    asked = iter(range(most_trials))

    def still_fails_in_time(trial: Tables) -> bool:
        return (
            # guard: shrinking ends
            next(asked, None) is not None and still_fails(trial)
        )

    least = deepcopy(dict(data))
    if still_fails_in_time(plain := _with(least, PLAIN)):
        least = plain
    before = None
    while least != before:
        before = least
        # guard: shrinking leaves keys out
        least = _with_less(least, still_fails_in_time)
    return _with_rounder_numbers(least, still_fails_in_time)


def _with_less(least: Tables, still_fails: Question) -> Tables:
    for path in [*_paths(least)]:
        if path not in NEEDED and _has(least, path) and still_fails(trial := _without(least, path)):
            least = trial
    return least


def _with_rounder_numbers(least: Tables, still_fails: Question) -> Tables:
    for path in [*_paths(least)]:
        for value in _rounder(_get(least, path)):
            if still_fails(trial := _with(least, {path: value})):
                least = trial
                break
    return least


def _paths(table: Mapping[str, Any], above: Path = ()) -> Iterator[Path]:
    """Yield every key, tables before their own keys."""
    for key, value in table.items():
        yield (*above, key)
        if isinstance(value, Mapping):
            yield from _paths(value, (*above, key))


def _get(table: Mapping[str, Any], path: Path) -> Any:
    for key in path:
        table = table[key]
    return table


def _has(table: Mapping[str, Any], path: Path) -> bool:
    for key in path:
        if not isinstance(table, Mapping) or key not in table:
            return False
        table = table[key]
    return True


def _with(table: Tables, values: Mapping[Path, Any]) -> Tables:
    changed = deepcopy(table)
    for path, value in values.items():
        _get(changed, path[:-1])[path[-1]] = value
    return changed


def _without(table: Tables, path: Path) -> Tables:
    changed = deepcopy(table)
    del _get(changed, path[:-1])[path[-1]]
    return changed


def _rounder(value: Any) -> Iterator[Any]:
    """Yield rounder numbers, the roundest first."""
    if isinstance(value, float):
        yield from (round(value, digits) for digits in (-1, 0, 1) if round(value, digits) != value)
