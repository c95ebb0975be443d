"""The ladders of the tubs: the gain that their readings share."""
