"""The bone on the rest: outline, yellowness, yellow patches."""
