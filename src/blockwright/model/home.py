"""Where the program keeps what belongs to no single print: the app's drawer, and the studio's database."""

import os
from pathlib import Path

import platformdirs

HOME_VARIABLE = "BLOCKWRIGHT_HOME"
"""Set in the environment, it names another folder than the system's usual one."""

DATABASE_NAME = "studio.db"


def home_folder() -> Path:
    """The folder of the drawer, the uploads, the prints that are started in the app, and ``studio.db``."""
    if given := os.environ.get(HOME_VARIABLE):
        return Path(given)
    return Path(platformdirs.user_data_dir("blockwright", appauthor=False))
