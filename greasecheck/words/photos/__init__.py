"""What is said of photos: their checks, their readings, the camera check."""
