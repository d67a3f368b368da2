"""`print3d check`: the checks alone."""

from pathlib import Path

from print3d.cli.case_report import outcome_of
from print3d.cli.console import AsJson, Cases, Progress
from print3d.cli.runner import ORTHOSES, CaseOutcome, run_cases


def check(cases: Cases, as_json: AsJson = False) -> None:
    """Run the checks alone, writing nothing. Exit codes as for build."""

    def one(path: Path, progress: Progress) -> CaseOutcome:
        from print3d import flow

        return outcome_of(path, flow.check(flow.shape(flow.read(path), progress), progress))

    run_cases(cases, one, ORTHOSES, as_json=as_json)
