"""Profiles by name: a person's own in the user configuration folder, and the shipped ones.

A profile of one's own goes before a shipped one of the same name. The environment variable
``WITNESSMARK_PROFILES`` names another folder for one's own.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from witnessmark.errors import BadInput, StoreError
from witnessmark.files import new_file, open_plain, user_path, whole_file
from witnessmark.meters.profile import LARGEST_BYTES, Profile, read_profile, write_profile

_NAME = re.compile("[A-Za-z0-9][A-Za-z0-9_-]{0,63}")


def own_folder() -> Path:
    """Return the folder of a person's own profiles, which need not exist.

    Raises:
        BadInput: when it is below the folder of somebody who is not here.
    """
    chosen = os.environ.get("WITNESSMARK_PROFILES")
    if chosen:
        return user_path(chosen)
    from platformdirs import user_config_path  # noqa: PLC0415 - only where no folder was chosen

    return user_config_path("witnessmark") / "profiles"


def known_profiles() -> list[str]:
    """Return the names of all profiles, in alphabetical order.

    Raises:
        BadInput: when the folder of one's own is below that of somebody who is not here.
    """
    names = {name for folder in _folders() for name in _names_in(folder)}
    stems = {name.removesuffix(".toml") for name in names if name.endswith(".toml")}
    return sorted(stem for stem in stems if _NAME.fullmatch(stem))


def load_profile(name: str) -> Profile:
    """Return the profile of that name.

    Raises:
        BadInput: when there is none, or its file is wrong, saying which key.
    """
    for folder in _folders():
        file = folder / f"{name}.toml"
        if _NAME.fullmatch(name) and _is_there(file):
            return _read(file)
    known = ", ".join(known_profiles())
    raise BadInput(f'no profile "{name}" here; known: {known}; teach one with: witnessmark learn')


def check_profile_name(name: str) -> None:
    """Refuse what cannot be the name of a profile.

    Raises:
        BadInput: saying what names look like.
    """
    if not _NAME.fullmatch(name):
        raise BadInput(
            f'profile name "{name}": use up to 64 letters without accents, digits, - and _'
        )


def save_profile(name: str, profile: Profile) -> Path:
    """Keep a profile among one's own; former ones of that name stay beside it, as ``.toml.old``.

    Returns:
        The file.

    Raises:
        BadInput: when the name cannot be one.
        StoreError: when the file cannot be written.
    """
    check_profile_name(name)
    file = own_folder() / f"{name}.toml"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        if file.exists():
            with open_plain(file) as former, new_file(_kept_as(file)) as kept:
                shutil.copyfileobj(former, kept)
        with whole_file(file) as fresh:
            fresh.write(write_profile(profile).encode())
    except OSError as error:
        raise StoreError(f"{file}: the profile cannot be saved: {error.strerror}") from error
    return file


def replaced_words(name: str) -> str:
    """Return what becomes of another profile when one is saved by that name; "": there is none.

    Raises:
        BadInput: when the name cannot be one.
    """
    check_profile_name(name)
    file = own_folder() / f"{name}.toml"
    if _is_there(file):
        return f'"{name}" is replaced; what it was is kept as {_kept_as(file).name}'
    if name in known_profiles():
        return f'the shipped profile "{name}" is hidden by this one of yours'
    return ""


def _kept_as(file: Path) -> Path:
    """Return the first free name for a file that is replaced."""
    names = (file.with_suffix(f".toml.old{number or ''}") for number in itertools.count())
    return next(name for name in names if not name.exists())


def _folders() -> list[Traversable]:
    # by name, because the port must not import the drivers
    return [own_folder(), files("witnessmark_drivers") / "profiles"]


def _names_in(folder: Traversable) -> list[str]:
    """Return what lies in a folder; nothing where it cannot be looked into."""
    try:
        return [path.name for path in folder.iterdir()]
    except OSError:
        return []


def _is_there(file: Traversable) -> bool:
    try:
        return file.is_file()
    except OSError:  # of a folder that cannot be looked into, or has no possible name
        return False


def _read(file: Traversable) -> Profile:
    try:
        with file.open("rb") as source:
            return read_profile(source.read(LARGEST_BYTES + 1).decode("utf-8-sig"))
    except OSError as error:
        raise BadInput(f"{file}: the profile cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise BadInput(f"{file}: the profile is not a text file in UTF-8") from error
    except BadInput as error:
        raise BadInput(f"{file}: {error}") from None
