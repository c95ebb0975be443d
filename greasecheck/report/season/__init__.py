"""The season's page."""
