"""Witnessmark: the technical file of a converted vehicle's electrical safety, computed from its evidence."""

__version__ = "0.1.0"
