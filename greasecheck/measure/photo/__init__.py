"""From a photo file to upright pixels with their time and tone curves."""
