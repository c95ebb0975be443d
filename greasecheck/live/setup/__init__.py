"""The first evening: paper, stand, clear water, tubs, tags, prices."""
