"""From a photograph to a reading."""
