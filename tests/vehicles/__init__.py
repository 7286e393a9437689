"""Six invented vehicles: what is asked of each, typed with its reason from the rules."""
