"""The invented demonstration: scripts that draw its pictures and write its papers and logs, and tests of what lies there."""
