"""Tests of the requirement sets."""
