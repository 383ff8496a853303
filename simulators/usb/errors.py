"""What a USB library raises, with the numbers that pyusb gives it. Pure.

The pairs of library code and errno are those of libusb 1.0 and pyusb's backend for it.
"""

from __future__ import annotations

import errno

import usb.core

_CODES = {
    errno.EIO: (-1, "Input/Output Error"),
    errno.EINVAL: (-2, "Invalid parameter"),
    errno.EACCES: (-3, "Access denied (insufficient permissions)"),
    errno.ENODEV: (-4, "No such device (it may have been disconnected)"),
    errno.ENOENT: (-5, "Entity not found"),
    errno.EBUSY: (-6, "Resource busy"),
    errno.ETIMEDOUT: (-7, "Operation timed out"),
    errno.EOVERFLOW: (-8, "Overflow"),
    errno.EPIPE: (-9, "Pipe error"),
}


def usb_error(number: int) -> Exception:
    """The error of an errno; a timeout is of the class that pyusb has for it."""
    code, text = _CODES[number]
    kind = usb.core.USBTimeoutError if number == errno.ETIMEDOUT else usb.core.USBError
    error: Exception = kind(text, code, number)
    return error
