"""From attenuation to turbidity units, by the user's own dilution series."""
