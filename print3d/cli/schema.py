"""`print3d schema`: what stands in a file, for editors and programs."""

import json
from collections.abc import Callable
from typing import Annotated, Any

import typer

from print3d.cli.console import HOLDS
from print3d.errors import InputError
from print3d.inputs.problems import unknown_name
from print3d.language.message import message


def schema(
    of: Annotated[str, typer.Option("--of", help="Of which file: case, model or findings.")] = "case",
) -> None:
    """Print the JSON Schema of a file."""
    if of not in SCHEMAS:
        raise InputError(unknown_name("--of", of, message("refusals.no_such.schema"), SCHEMAS))
    print(json.dumps(SCHEMAS[of](), indent=2))
    raise typer.Exit(HOLDS)


def _of_case() -> dict[str, Any]:
    from print3d.inputs.schema import case_schema
    from print3d.kinds.registry import KINDS

    needs = {name: {measure.key: measure.need for measure in kind.measures} for name, kind in KINDS.items()}
    return case_schema({name: kind.options for name, kind in KINDS.items()}, needs)


def _of_model() -> dict[str, Any]:
    from print3d.inputs.schema import model_schema

    return model_schema()


def _of_findings() -> dict[str, Any]:
    from print3d.output.findings_schema import findings_schema

    return findings_schema()


SCHEMAS: dict[str, Callable[[], dict[str, Any]]] = {
    "case": _of_case,
    "model": _of_model,
    "findings": _of_findings,
}
"""Makers of the schemas, by the names that --of takes."""
