"""What a hint asks for, as the command that does it; only the terminal says so."""

from __future__ import annotations

# Words of hints below the command line, and the command for each.
WAYS = {
    "name another folder for the demo": "greasecheck demo --out DIR",
    "say that both are the same": "--same",
    "see the list of tubs": "greasecheck today",
    "make a clear-water reference with this jar": "greasecheck clear PHOTO --path-mm DEPTH",
    "make the clear-water reference again": "greasecheck clear PHOTO",
    "say that it is tap water all the same": "greasecheck clear PHOTO --tap-water",
    "make the reference of it": "greasecheck clear PHOTO",
    "make the turbidity scale again": "greasecheck calibrate SERIES.csv",
    "estimate the lens again": "greasecheck camera PHOTOS --out lens.json",
    "have the lens estimated": "greasecheck camera PHOTOS --out lens.json",
    "choose another port": "--port",
    "choose a port": "--port",
    "another folder for photos": "--photos DIR",
    "enter the change by itself": "greasecheck change TUB --at TIME",
    "see the columns of the tables": "greasecheck book columns",
    "see the tub's readings": "greasecheck reading list TUB",
    "name the tub": "--tub",
    "shift the time of this photo": "--shift -1h",
    "correct the camera's clock": "--shift -1h",
    "give a haze with its standard error": "--haze, --std, --yellowness",
    "mark the old reading wrong": "greasecheck reading wrong TUB",
    "take the other entry back": "greasecheck undo --list",
    "give its strength in percent": "--strength, --hours",
    "enter first: ": "greasecheck skull NAME WHAT",
    "in place of a wrong one": "greasecheck skull NAME WHAT --at TIME --instead-of TIME",
    "first enter what became of it": "greasecheck skull NAME degreased",
    "see the list of skulls": "greasecheck skull",
    "enter a new skull": "greasecheck skull NAME --species SPECIES, or --new",
    "see the story of the skull": "greasecheck skull NAME",
    "place for the logbook": "--logbook FILE",
    "right file of the logbook": "--logbook FILE",
    "restore the latest backup": "greasecheck book restore BACKUP",
    "restore a newer backup": "greasecheck book restore BACKUP; greasecheck book check --accept",
    "then check the logbook": "greasecheck book check",
    "start one with its first tub": "greasecheck tub 10 --new; --logbook FILE",
    "enter the tub first": "greasecheck tub NUMBER --volume LITRES, or --new",
    "say what goes in": "--recipe soap",
    "enter its bath first": "greasecheck change TUB --recipe soap",
    "dilute the water and say how much": "--dilution 4",
    "give their measured values": "--patches FILE",
}


def way_of(hint: str) -> str:
    """Return the command that does what a hint asks for; empty when none does.

    Examples
    --------
    >>> way_of("enter its bath first")
    'greasecheck change TUB --recipe soap'
    """
    return "; ".join(dict.fromkeys(command for words, command in WAYS.items() if words in hint))
