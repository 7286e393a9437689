"""Freezing a vehicle's technical file as a release, verifying one, and comparing two."""
