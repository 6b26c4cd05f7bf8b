"""Memory handed back to the system when nobody has asked for anything for a while."""

import ctypes
import gc
import sys


def give_back() -> None:
    """Let go of what nothing refers to any more, and hand freed memory back where the system's C library can.

    glibc keeps freed memory for the next use (malloc_trim(3)); an app that is left open overnight has none.
    """
    gc.collect()
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)
