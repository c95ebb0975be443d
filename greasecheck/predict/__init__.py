"""From readings to dates and decisions; plain sequences in, frozen records out."""
