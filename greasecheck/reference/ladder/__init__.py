"""The dip ladder: its plate, and the laws by which its slopes become haze."""
