"""Words for photos: their checks, their readings, the camera check."""
