"""Read bone-degreasing baths from photographs and forecast the day they run clear."""

__version__ = "0.1.0"
