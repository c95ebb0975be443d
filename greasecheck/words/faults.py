"""Faults of the live page's addresses in words."""

from __future__ import annotations

HTTP_FAULTS = {
    400: ("The request makes no sense.", "go back and try again"),
    403: ("This may not be done from here.", "open today's list and try again from there"),
    404: ("There is no such page.", "go back to today's list"),
    405: ("This page takes no such request.", "go back to today's list"),
    413: (
        "The upload is too large.",
        "send fewer photos at a time: at most 12, of 40 MB each and 200 MB together",
    ),
    421: (
        "This address does not name this computer.",
        "use the address that the terminal shows",
    ),
    500: (
        "Something went wrong inside; nothing more was written.",
        "the terminal says what; please report it as a bug",
    ),
}
OTHER_FAULT = ("The request was refused.", "go back to today's list")
