"""Models of all that a team writes. Frozen; nothing here reads a file, a clock or git."""
