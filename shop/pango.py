"""Whether the libraries that draw a printed sheet are on this machine, and how to get them.

Found by trying to load them, under the names and in the folders where WeasyPrint looks. Standard library only: the
start-up asks before any package is there.
"""

import contextlib
import ctypes
import ctypes.util
import functools
import os
import platform
import sys

DEBIAN_PACKAGES = ["libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"]

_LIBRARIES = {
    "GObject": ["libgobject-2.0.so.0", "libgobject-2.0.0.dylib", "libgobject-2.0-0.dll", "gobject-2.0"],
    "Pango": ["libpango-1.0.so.0", "libpango-1.0.dylib", "libpango-1.0-0.dll", "pango-1.0"],
    "HarfBuzz": ["libharfbuzz.so.0", "libharfbuzz.0.dylib", "libharfbuzz-0.dll", "harfbuzz"],
    "HarfBuzz subset": [
        "libharfbuzz-subset.so.0",
        "libharfbuzz-subset.0.dylib",
        "libharfbuzz-subset-0.dll",
        "harfbuzz-subset",
    ],
    "Fontconfig": ["libfontconfig.so.1", "libfontconfig.1.dylib", "libfontconfig-1.dll", "fontconfig"],
    "PangoFT2": ["libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib", "libpangoft2-1.0-0.dll", "pangoft2-1.0"],
}
_WINDOWS_FOLDERS = (
    "C:\\msys64\\ucrt64\\bin;C:\\msys64\\mingw64\\bin;C:\\Program Files\\GTK3-Runtime Win64\\bin"  # WeasyPrint's own
)

_COMMANDS = {
    "debian": "sudo apt-get install " + " ".join(DEBIAN_PACKAGES),
    "fedora": "sudo dnf install pango",
    "arch": "sudo pacman -S pango",
    "alpine": "doas apk add pango fontconfig",
    "macos": "brew install pango",
    "windows": "pacman -S mingw-w64-ucrt-x86_64-pango   (in the MSYS2 shell, once MSYS2 is installed)",
}


def system() -> str:
    """Return the family of this system: debian, fedora, arch, alpine, macos, windows, or nothing if it is another."""
    if sys.platform in ("win32", "darwin"):
        return {"win32": "windows", "darwin": "macos"}[sys.platform]
    try:
        release = platform.freedesktop_os_release()
    except OSError:
        return ""
    names = [release["ID"], *release.get("ID_LIKE", "").split()]
    return next((name for name in names if name in _COMMANDS), "")


def missing() -> "list[str]":
    """Return the libraries that cannot be loaded."""
    if sys.platform == "win32":
        for folder in os.getenv("WEASYPRINT_DLL_DIRECTORIES", _WINDOWS_FOLDERS).split(";"):
            with contextlib.suppress(OSError):
                os.add_dll_directory(folder)
    return [library for library, names in _LIBRARIES.items() if not _loads(*names)]


def _loads(*names: str) -> bool:
    *files, bare = names
    for name in (*files, None):
        with contextlib.suppress(OSError):
            # Asking the system where a library is takes a while, so that comes last.
            found = name or ctypes.util.find_library(bare)
            if found:
                ctypes.CDLL(found)
                return True
    return False


@functools.lru_cache(maxsize=None)  # noqa: UP033 - an old Python has to be able to read this
def printing_available() -> bool:
    """Return whether sheets can be printed here."""
    return not missing()


def advice() -> str:
    """Return one line on what is missing and what to type to get it."""
    command = _COMMANDS.get(system())
    how = f"To switch it on, type: {command}" if command else "To switch it on, install Pango 1.44 or newer."
    return f"Printing is off, because this machine has no {', '.join(missing())}. {how}"
