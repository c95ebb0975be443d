"""Commands that read photos and keep readings."""
