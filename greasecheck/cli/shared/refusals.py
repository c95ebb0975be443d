"""What to do when the system refuses to read or write."""

from __future__ import annotations

import errno

MAKE_ROOM, ALLOW = "make room and try again", "choose a place that you may read and write"
REFUSALS = {
    errno.ENOSPC: MAKE_ROOM,
    errno.EDQUOT: MAKE_ROOM,
    errno.EFBIG: MAKE_ROOM,
    errno.EACCES: ALLOW,
    errno.EPERM: ALLOW,
    errno.EROFS: ALLOW,
    errno.ENAMETOOLONG: "choose a shorter name",
    errno.ELOOP: "choose another name: this one leads back to itself",
    errno.EIO: "check the disk",
}
