"""`print3d check`: the checks alone."""

from pathlib import Path

from print3d.cli.case_report import outcome_of
from print3d.cli.console import AsJson, Cases, Progress, Verbose
from print3d.cli.runner import ORTHOSES, CaseOutcome, run_cases


def check(cases: Cases, verbose: Verbose = False, as_json: AsJson = False) -> None:
    """Run the checks alone, writing nothing. Exit codes as for build."""

    def one(path: Path, progress: Progress) -> CaseOutcome:
        from print3d import flow

        built = flow.check(flow.shape(flow.read(path), progress), progress)
        return outcome_of(path, built, verbose=verbose)

    run_cases(cases, one, ORTHOSES, as_json=as_json)
