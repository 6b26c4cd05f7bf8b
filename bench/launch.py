"""Starts one command, waits for it, and writes down its time, peak of memory and exit code.

Run as a script by :mod:`bench.child`, with nothing but the standard library: on Linux a process inherits the
peak of the one that started it, so the starter must be small.
"""

import json
import os
import subprocess
import sys
import time
from pathlib import Path


def main() -> None:
    """Arguments: the file to write, then the command. Output of the command is passed on."""
    answer, *words = sys.argv[1:]
    began = time.perf_counter()
    process = subprocess.Popen(words, stdin=subprocess.DEVNULL, stderr=subprocess.STDOUT)
    _, status, usage = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    told = {
        "wall_s": wall_s,
        "processor_s": usage.ru_utime + usage.ru_stime,
        "max_rss": usage.ru_maxrss,
        "code": process.returncode,
    }
    Path(answer).write_text(json.dumps(told), encoding="utf-8")


if __name__ == "__main__":
    main()
