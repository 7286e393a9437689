"""The rules of assessment, each with its tests, through the concrete layer."""
