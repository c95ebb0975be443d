"""Bone of any size beside the bone card: the ground around it, the pieces, their colour."""
