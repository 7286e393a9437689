"""What can be recorded: for each kind of act the questions, in the order of work, and the act that the answers make."""
