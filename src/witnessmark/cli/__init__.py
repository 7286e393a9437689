"""The command line: one thin function per command. It parses, calls, prints and returns an exit status."""
