"""The manual: the pages of `docs` and a reference made from models and methods, in the technical file's theme."""

from witnessmark.manual.make import make

__all__ = ["make"]
