"""The invented demonstration: scripts for its pictures, papers and logs, and tests of what lies there."""
