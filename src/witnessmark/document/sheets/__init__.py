"""Test sheets: what is still to be read at the vehicle, on paper, with this vehicle's limits and a code of its own."""
