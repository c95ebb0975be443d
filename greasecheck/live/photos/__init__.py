"""Photos sent by the phone: read, shown, kept."""
