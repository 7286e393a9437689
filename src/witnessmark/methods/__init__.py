"""Methods of measurement: from readings to results with their uncertainty, one module each."""
