"""Command line: this room is the only one that prints or exits. A file a command, named after it."""

import io
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from print3d.cli.build import build
from print3d.cli.check import check
from print3d.cli.class_set import class_set
from print3d.cli.compare import compare
from print3d.cli.console import REFUSED, VERSION, complain, language_of_call
from print3d.cli.installation import missing_library
from print3d.cli.model import model
from print3d.cli.remake import remake
from print3d.cli.schema import schema
from print3d.cli.sensitivity import sensitivity
from print3d.cli.series import series
from print3d.cli.sheet import sheet
from print3d.cli.suggest import suggest
from print3d.errors import Print3dError

HELP = "Custom-fitted, checked, printable finger and forearm orthoses from tape measures and joint angles."
COMMANDS = (build, check, suggest, series, sheet, remake, compare, sensitivity, model, class_set, schema)

# no markup: help without boxes reads well in a pipe too
app = typer.Typer(add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False,
                  rich_markup_mode=None, help=HELP)  # fmt: skip
for each in COMMANDS:
    app.command()(each)


@app.callback()
def _options(version: Annotated[bool, VERSION] = False) -> None:
    pass


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; it ends the process with the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # guard: a pipe in an old code page
            stream.reconfigure(errors="replace")  # a pipe in an old code page must not stop a build
    try:
        app(args=arguments)
    # guard: a refusal is no traceback
    except Print3dError as error:
        complain(error.said(language_of_call(sys.argv[1:] if arguments is None else arguments)))
        sys.exit(REFUSED)
    except ImportError as error:
        # guard: library: missing
        message = missing_library(error)
        if message is None:
            raise
        complain(message)
        sys.exit(REFUSED)
