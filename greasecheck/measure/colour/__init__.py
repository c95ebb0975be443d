"""From device values to scene light and CIE XYZ."""
