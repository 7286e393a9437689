"""What leaves the program as data: JSON, CSV and schemas. Nothing here computes a result or a state."""
