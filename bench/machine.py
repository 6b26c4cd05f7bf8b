"""What the figures were measured on."""

import os
import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

_PACKAGES = (
    "numpy",
    "scipy",
    "numba",
    "shapely",
    "opencv-python-headless",
    "pillow",
    "vtracer",
    "colour-science",
)


def processor() -> str:
    """The processor's name and how many cores it lends."""
    name = platform.processor() or platform.machine()
    told = Path("/proc/cpuinfo")
    if told.is_file():
        for line in told.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                name = line.partition(":")[2].strip()
                break
    return f"{name}, {os.cpu_count()} cores"


def memory_gb() -> float:
    """Installed memory in GB."""
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9


def versions() -> str:
    """Python and the libraries that the figures rest on."""
    told = [f"Python {platform.python_version()}"]
    for package in _PACKAGES:
        try:
            told.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            told.append(f"{package} (not installed)")
    return ", ".join(told)


def describe() -> list[str]:
    """Machine, system, load and versions, a line each."""
    return [
        f"Machine: {processor()}, {memory_gb():.0f} GB memory; {platform.system()} {platform.release()}.",
        f"Load when the run began: {os.getloadavg()[0]:.1f} processes.",
        f"Versions: {versions()}.",
    ]
