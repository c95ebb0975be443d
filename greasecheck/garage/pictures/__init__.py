"""Pictures of skulls, out of the photos of their readings."""
