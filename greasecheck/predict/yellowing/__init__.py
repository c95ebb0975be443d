"""Which finished skull will yellow later."""
