"""Check that this machine has what the program needs, and say by name what is missing.

    python3 tools/need.py run     what running needs: venv, Pango, HarfBuzz subsetting, fonts
    python3 tools/need.py test    also what the tests call: Chromium, PostgreSQL, PDF readers, age and GnuPG

As root on Debian or Ubuntu the missing packages are installed. Elsewhere the package names are printed. Needs nothing
but the standard library, because it runs before the environment exists.
"""

import ctypes
import glob
import os
import shutil
import subprocess
import sys


def has_library(*names: str) -> bool:
    for name in names:
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return True
    return False


def has_venv() -> bool:
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError:
        return False
    return True


def has_font() -> bool:
    if shutil.which("fc-list"):
        listed = subprocess.run(["fc-list"], capture_output=True, text=True, check=False).stdout
        if listed.strip():
            return True
    return any(os.path.isdir(folder) and any(files for _, _, files in os.walk(folder)) for folder in _FONT_FOLDERS)


_FONT_FOLDERS = ("/usr/share/fonts", "/Library/Fonts", "/System/Library/Fonts")


def has_postgres() -> bool:
    return shutil.which("initdb") is not None or bool(glob.glob("/usr/lib/postgresql/*/bin/initdb"))


def has_chromium() -> bool:
    return any(shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome"))


# what it is, how it is found, Debian / Fedora / macOS (brew) package
RUN = [
    ("the Python venv module", has_venv, "python3-venv", "python3-libs", "python"),
    (
        "Pango",
        lambda: (
            has_library("libpango-1.0.so.0", "libpango-1.0.dylib", "/opt/homebrew/lib/libpango-1.0.dylib")
            and has_library("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib", "/opt/homebrew/lib/libpangoft2-1.0.dylib")
        ),
        "libpango-1.0-0 libpangoft2-1.0-0",
        "pango",
        "pango",
    ),
    (
        "HarfBuzz font subsetting",
        lambda: has_library(
            "libharfbuzz-subset.so.0", "libharfbuzz-subset.dylib", "/opt/homebrew/lib/libharfbuzz-subset.dylib"
        ),
        "libharfbuzz-subset0",
        "harfbuzz",
        "harfbuzz",
    ),
    ("a font", has_font, "fonts-dejavu-core", "dejavu-sans-fonts", "font-dejavu"),
]
TEST = [
    (
        "libatomic, which the driver of the browser tests is linked to",
        lambda: sys.platform != "linux" or has_library("libatomic.so.1"),
        "libatomic1",
        "libatomic",
        "gcc",
    ),
    ("Chromium", has_chromium, "chromium", "chromium", "chromium"),
    ("PostgreSQL", has_postgres, "postgresql", "postgresql-server", "postgresql"),
    ("qpdf", lambda: shutil.which("qpdf") is not None, "qpdf", "qpdf", "qpdf"),
    ("age", lambda: shutil.which("age") is not None, "age", "age", "age"),
    ("GnuPG", lambda: shutil.which("gpg") is not None, "gnupg", "gnupg2", "gnupg"),
    ("pdftoppm", lambda: shutil.which("pdftoppm") is not None, "poppler-utils", "poppler-utils", "poppler-utils"),
]
# What tools/run_tests.py can leave out whole and names at its end. Without anything else tests would fail one by one.
LEFT_OUT = ("Chromium", "PostgreSQL")


def main(what: str) -> int:
    wanted = RUN + (TEST if what == "test" else [])
    missing = [item for item in wanted if not item[1]()]
    if missing and shutil.which("apt-get") and os.geteuid() == 0:
        packages = " ".join(item[2] for item in missing).split()
        print(f"Installing {', '.join(packages)} ...", flush=True)
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        subprocess.run(["apt-get", "update", "-qq"], env=quiet, check=False)
        subprocess.run(
            ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *packages],
            env=quiet,
            stdout=subprocess.DEVNULL,
            check=False,
        )
        missing = [item for item in wanted if not item[1]()]
    if not missing:
        return 0
    print("This machine lacks:", file=sys.stderr)
    for name, _, debian, fedora, brew in missing:
        print(f"  {name}", file=sys.stderr)
        print(f"    Debian, Ubuntu: sudo apt-get install {debian}", file=sys.stderr)
        print(f"    Fedora:         sudo dnf install {fedora}", file=sys.stderr)
        print(f"    macOS:          brew install {brew}", file=sys.stderr)
    if all(item[0] in LEFT_OUT for item in missing) and os.environ.get("CI") != "true":
        print("The tests that need it will be named at the end as not run.", file=sys.stderr)
        return 0
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else "run"))
