"""The table of a sweep: what was built and refused and why, what the checks found, and what it cost."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

Row = Mapping[str, Any]
KEY = re.compile(
    r"\b(?:orthosis\.|measured\.|print\.|wear\.)?(?:[a-z]+\.)*[a-z]+(?:_[a-z0-9]+)+\b|\b(?:orthosis|measured|print)(?:\.[a-z_]+)+"
)
MOST_REASONS = 6


def reason(refusal: str) -> str:
    """Return the first key that a refusal names, else its first words without their numbers."""
    told = refusal.split(".toml: ", 1)[-1]
    found = KEY.search(told)
    return found.group(0) if found else re.sub(r"-?\d+(\.\d+)?", "#", told)[:60]


def table(rows: Sequence[Row]) -> Iterator[str]:
    """Yield the lines of the table."""
    yield f"{'kind':22} {'bodies':>6} {'built':>6} {'refused':>7} {'faults':>6}  {'build s':>15} {'checks s':>15}  triangles"
    yield f"{'':22} {'':>6} {'':>6} {'':>7} {'':>6}  {'median      max':>15} {'median      max':>15}  median"
    for kind in sorted({row["kind"] for row in rows}):
        yield _counts(kind, [row for row in rows if row["kind"] == kind])
    yield _counts("all", rows)
    yield ""
    yield "refused, by the key that is named"
    for kind in sorted({row["kind"] for row in rows}):
        reasons = Counter(reason(row["refusal"]) for row in rows if row["kind"] == kind and row["refusal"])
        said = ", ".join(f"{name} {count}" for name, count in reasons.most_common(MOST_REASONS))
        others = sum(reasons.values()) - sum(count for _, count in reasons.most_common(MOST_REASONS))
        yield f"{kind:22} {said or '-'}" + (f", others {others}" if others else "")
    yield ""
    yield "bodies that a check found outside its limit, in per cent of those built"
    yield from _failed(rows)
    yield ""
    yield from _faults(rows)


def _counts(name: str, rows: Sequence[Row]) -> str:
    built = [row for row in rows if row["n_findings"]]
    refused, faulty = sum(bool(row["refusal"]) for row in rows), sum(bool(row["faults"]) for row in rows)
    costs = " ".join(_spread([row[key] for row in built]) for key in ("build_s", "checks_s"))
    triangles = f"{np.median([row['n_triangles'] for row in built]):9.0f}" if built else ""
    return f"{name:22} {len(rows):6} {len(built):6} {refused:7} {faulty:6}  {costs}  {triangles}"


def _spread(values: Sequence[float]) -> str:
    return f"{np.median(values):6.2f} {max(values):8.2f}" if values else f"{'-':>15}"


def _failed(rows: Sequence[Row]) -> Iterator[str]:
    built = [row for row in rows if row["n_findings"]]
    kinds = sorted({row["kind"] for row in built})
    checks = sorted({check for row in built for check in row["failed"]})
    yield f"{'':20}" + "".join(f"{kind[:14]:>16}" for kind in kinds)
    for check in checks:
        shares = []
        for kind in kinds:
            of_kind = [check in row["failed"] for row in built if row["kind"] == kind]
            shares.append(f"{100.0 * sum(of_kind) / len(of_kind):15.1f}%" if any(of_kind) else f"{'-':>16}")
        yield f"{check:20}" + "".join(shares)


def _faults(rows: Sequence[Row]) -> Iterator[str]:
    named = Counter(fault["name"] for row in rows for fault in row["faults"])
    yield f"faults: {sum(named.values())}"
    for name, count in named.most_common():
        numbers = [row["number"] for row in rows if any(fault["name"] == name for fault in row["faults"])]
        yield f"  {count:4} x {name}: bodies {', '.join(map(str, numbers[:8]))}"
