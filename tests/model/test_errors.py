"""Errors: one base of ours, each also the builtin that others expect."""

import pytest

from blockwright.model.errors import (
    BlockwrightError,
    FolderError,
    InkError,
    PictureError,
    SettingsError,
    StudioError,
)


@pytest.mark.parametrize(
    ("error", "builtin"),
    [
        (PictureError, ValueError),
        (SettingsError, ValueError),
        (FolderError, OSError),
        (InkError, ValueError),
        (StudioError, OSError),
    ],
)
def test_errors_are_the_builtin_too(error: type[Exception], builtin: type[Exception]) -> None:
    assert issubclass(error, BlockwrightError)
    assert issubclass(error, builtin)
    with pytest.raises(builtin) as caught:
        raise error("The picture sketch.png is not there.")
    assert str(caught.value) == "The picture sketch.png is not there."
