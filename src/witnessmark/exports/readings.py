"""Readings and numbers from logs as CSV: the same tables that are attached to the technical file."""

from witnessmark.document.tables import defused, figures_csv, readings_csv

__all__ = ["defused", "figures_csv", "readings_csv"]
