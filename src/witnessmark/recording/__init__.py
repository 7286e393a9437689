"""Answers become sealed files: canonical form, one lock, atomic writes, a commit."""
