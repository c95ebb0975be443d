"""The values of a chart's patches: nominal ones, and files that a user measured."""
