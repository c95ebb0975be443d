"""What the season's page shows, and the demo's season."""
