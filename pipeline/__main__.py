"""python -m pipeline: the command line."""

from pipeline.cli import main

main()
