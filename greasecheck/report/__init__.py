"""What people see: overlays, charts and pages."""
