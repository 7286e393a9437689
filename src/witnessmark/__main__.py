"""`python -m witnessmark`."""

from witnessmark.cli.main import run

run()
