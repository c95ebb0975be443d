"""From the contrast of the bars to the attenuation of the bath water."""
