"""Files, git and the clock become data: every fault with file, line, column and remedy."""
