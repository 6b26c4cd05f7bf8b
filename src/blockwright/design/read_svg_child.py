"""Draw an SVG as a PNG, as a program of its own: SVG on standard input, PNG on standard output.

A drawing can overrun the renderer's stack, its time or the memory; here that ends this program and nothing
else. Run with two arguments, the width and the height in pixels.
"""

import sys
import threading

_STACK_BYTES = 256 * 2**20
"""Room for groups nested as deeply as the caller lets through; 500 levels overrun the usual 8 MB."""
_SPARE_MEMORY_BYTES = 2 * 2**30
_MEMORY_PER_PIXEL_BYTES = 24
"""Six whole pictures of RGBA: the picture itself, the PNG, and four groups that are drawn apart."""
_PIXELS_PER_INCH = 96.0
"""CSS pixels to the inch; they give sizes in mm their meaning in the drawing."""


def _limit_memory(pixels: int) -> None:
    try:
        import resource
    except ImportError:  # no such limit on this system
        return
    most = _SPARE_MEMORY_BYTES + _MEMORY_PER_PIXEL_BYTES * pixels
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def _draw(svg: str, width: int, height: int, drawn: list[bytes]) -> None:
    import resvg_py

    drawn.append(
        bytes(
            resvg_py.svg_to_bytes(
                svg_string=svg, width=width, height=height, dpi=_PIXELS_PER_INCH, skip_system_fonts=True
            )
        )
    )


def main() -> int:
    """Draw; exit code 0 when the picture is on standard output, 1 when the renderer refused."""
    width, height = int(sys.argv[1]), int(sys.argv[2])
    svg = sys.stdin.buffer.read().decode()
    _limit_memory(width * height)
    threading.stack_size(_STACK_BYTES)
    drawn: list[bytes] = []
    thread = threading.Thread(target=_draw, args=(svg, width, height, drawn))
    thread.start()
    thread.join()
    if not drawn:
        return 1
    sys.stdout.buffer.write(drawn[0])
    return 0


if __name__ == "__main__":
    sys.exit(main())
