"""python -m pipeline: the command line."""

from pipeline.commands.cli import main

main()
