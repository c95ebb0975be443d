"""A camera that does the round: takes a picture every so often and reads the ladders in it."""
