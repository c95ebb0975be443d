"""The leaching network in closed form, over time and temperature."""
