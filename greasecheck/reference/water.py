"""What is known of water itself."""

WATER_INDEX = 1.333  # of visible light at 20 degrees C (CRC Handbook, from memory)
