"""Run the command line with `python -m print3d`."""

from print3d.cli.main import main

main()
