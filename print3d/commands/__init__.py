"""One file per command that is more than a few lines; `cli.py` puts them on the command line."""
