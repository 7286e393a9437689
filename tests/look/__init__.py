"""Pictures of everything that a person sees, for looking at: not a test, for no program can tell whether it is good."""
