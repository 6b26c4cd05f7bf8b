"""The demo print of the drawer: painted by a process of its own, so that the pages do not wait for it."""

import asyncio
import shutil
import sys
from contextlib import suppress
from pathlib import Path

from blockwright.decisions import FILE_NAME
from blockwright.model.errors import BlockwrightError, FolderError

_REFUSED = 2
"""The exit code of a painter that could not; its sentence is on standard output."""


class DemoPrint:
    """The demo print's folder, made when it is first wanted."""

    def __init__(self, prints: Path) -> None:
        self.folder = prints / "tide-mill"
        self._painting: asyncio.Task[None] | None = None

    @property
    def painted(self) -> bool:
        """Whether the folder is there."""
        return (self.folder / FILE_NAME).is_file()

    async def made(self) -> Path:
        """The folder, once it is there. Raises FolderError, one plain sentence."""
        if not self.painted:
            if self._painting is None or self._painting.done():
                self._painting = asyncio.create_task(_paint_apart(self.folder))
            # Whoever waits may go away; the others wait on.
            await asyncio.shield(self._painting)
        return self.folder

    async def close(self) -> None:
        """Stop painting."""
        if self._painting is not None:
            self._painting.cancel()
            with suppress(asyncio.CancelledError, BlockwrightError):
                await self._painting


async def _paint_apart(folder: Path) -> None:
    # -P: a folder in which someone happens to stand is no place to load code from.
    painter = await asyncio.create_subprocess_exec(
        *(sys.executable, "-P", "-m", "blockwright.web.demo_print", str(folder)),
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        start_new_session=True,
    )
    try:
        told, _ = await painter.communicate()
    except asyncio.CancelledError:
        with suppress(ProcessLookupError):
            painter.kill()
        await painter.wait()
        raise
    if painter.returncode == _REFUSED:
        raise FolderError(told.decode("utf-8", "replace").strip())
    if painter.returncode != 0:
        raise FolderError("The demo print could not be painted, perhaps for want of memory; try again.")


def paint(folder: Path) -> None:
    """Paint the demo print beside its place and put it there whole. Raises FolderError."""
    from blockwright import project

    beside = folder.with_name(f".painting-{folder.name}")
    shutil.rmtree(beside, ignore_errors=True)  # from an app that was killed
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)  # found out before the painting, which takes seconds
        project.create_demo(beside)
        beside.replace(folder)
    except OSError as error:
        if not (folder / FILE_NAME).is_file():  # else another app was quicker
            if isinstance(error, FolderError):
                raise
            raise FolderError(f"{folder} cannot be made ({error.strerror}).") from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def main() -> int:
    """Paint into the folder that is named on the command line."""
    try:
        paint(Path(sys.argv[1]))
    except BlockwrightError as error:
        sys.stdout.buffer.write(str(error).encode("utf-8", "replace"))
        return _REFUSED
    return 0


if __name__ == "__main__":
    sys.exit(main())
