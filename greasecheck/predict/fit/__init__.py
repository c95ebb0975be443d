"""From a tub's history to weighted draws of its parameters."""
