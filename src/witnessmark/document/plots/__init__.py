"""Plots: scales, axes, ticks and lines by the plotting library, in one quiet style. Loaded only when one is drawn."""
