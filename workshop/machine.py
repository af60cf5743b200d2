"""What this computer offers: the Pango libraries, apt, a free port, a folder to write in.

Standard library only: it runs before anything is installed.
"""

import ctypes
import ctypes.util
import errno
import os
import shlex
import shutil
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

# Debian's packages for printing papers, each with the library that proves it is there.
PANGO_PACKAGES = {
    "libpango-1.0-0": "libpango-1.0.so.0",
    "libpangoft2-1.0-0": "libpangoft2-1.0.so.0",
    "libharfbuzz-subset0": "libharfbuzz-subset.so.0",
}
# Debian splits the part of Python that makes virtual environments into a package of its own.
VENV_PACKAGE = "python3-venv"

# Fonts for the letters that the workshop's own font lacks; it has Latin, Greek and Cyrillic.
FONTS_FOR_THE_REST = "fonts-noto-core"
FONTS_FOR_EAST_ASIAN = "fonts-noto-cjk"
# A letter of each script that stands for it, and the package that brings a font for it.
SCRIPTS = {
    "Arabic": ("\u0639", FONTS_FOR_THE_REST),
    "Hebrew": ("\u05e9", FONTS_FOR_THE_REST),
    "Ethiopic": ("\u12a0", FONTS_FOR_THE_REST),
    "Devanagari": ("\u0905", FONTS_FOR_THE_REST),
    "Bengali": ("\u0985", FONTS_FOR_THE_REST),
    "Thai": ("\u0e01", FONTS_FOR_THE_REST),
    "Han": ("\u6c34", FONTS_FOR_EAST_ASIAN),
}


class SetUpError(Exception):
    """A command cannot go on; the text is the one sentence to show, `code` what it ends with."""

    def __init__(self, sentence: str, *, code: int = 1) -> None:
        super().__init__(sentence)
        self.code = code


ALL_RIGHTS = os.R_OK | os.W_OK | os.X_OK
NO_ROOM = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
NO_RIGHT = {errno.EACCES, errno.EPERM, errno.EROFS}
# The first start takes this much: packages, their bytecode, and a small book.
ROOM_NEEDED = "about 400 MB for the packages at the first start, and 100 MB to work in"


def sentence_of(error: OSError) -> "str | None":
    """What the machine refused, in one sentence with what to do; None for anything else."""
    if error.errno in NO_ROOM:
        return no_room_sentence(_folder_of(error.filename))
    if error.errno in NO_RIGHT and error.filename:
        return no_right_sentence(Path(os.fsdecode(error.filename)))
    return None


def no_room_sentence(folder: "Path | None") -> str:
    """The disk is full; what was begun goes on from where it stands."""
    where = f" ({folder})" if folder else ""
    return (
        f"The disk is full{where}. Make room, {ROOM_NEEDED}, and run the same line again; what was "
        "done already is kept."
    )


def no_right_sentence(place: Path) -> str:
    """This user may not write there; with the line that changes it."""
    home = place if os.path.isdir(place) else place.parent  # False where one may not even look
    return (
        f"{place} may not be written by {this_user()}. To make it yours, run as root: "
        f"{chown_line(home)}"
    )


def _folder_of(name: object) -> "Path | None":
    if not isinstance(name, (str, bytes)):
        return None
    place = Path(os.fsdecode(name))
    return place if os.path.isdir(place) else place.parent


def this_user() -> str:
    """The name of whoever runs this; the number where there is no name."""
    try:
        import pwd

        return pwd.getpwuid(os.geteuid()).pw_name
    except (ImportError, KeyError, AttributeError):
        return str(os.geteuid()) if hasattr(os, "geteuid") else "this user"


def chown_line(*places: Path) -> str:
    """The line that gives folders, and all that is in them, to this user."""
    return f"chown -R {this_user()}: {shlex.join(map(str, places))}"


def check_ours(*places: Path) -> None:
    """Raise SetUpError, with one line for all of them, for what stands here as another user's."""
    theirs = [
        place for place in places if os.path.lexists(place) and not os.access(place, ALL_RIGHTS)
    ]
    if theirs:
        names = " and ".join(map(str, theirs))
        raise SetUpError(
            f"{names} may not be written by {this_user()}, most likely because Strandwork was set "
            f"up here by another user before. To make it yours, run as root: {chown_line(*theirs)}"
        )


class Progress:
    """How far a long step has come: one line that changes, or a line now and then in a log."""

    LINES_IN_A_LOG = 4

    def __init__(self, words: str) -> None:
        self.words, self.said = words, 0
        self.alive = sys.stdout.isatty()

    def at(self, done: int, whole: int, about: str = "") -> None:
        """Tell that so many of all are done."""
        share = self.LINES_IN_A_LOG * done // max(whole, 1)
        line = f"  {self.words}: {done} of {whole} {about}".rstrip()
        if self.alive:
            print(f"\r{line[:78]:78}", end="", flush=True)
        elif share > self.said:
            say(line)
        self.said = max(share, self.said)

    def over(self) -> None:
        """Leave the changing line as it is and go on below it."""
        if self.alive:
            print(flush=True)


def say(sentence: str) -> None:
    """Tell the person at the desk what is going on, at once."""
    print(sentence, flush=True)


def missing_pango_packages() -> list[str]:
    """Debian packages whose library cannot be loaded here; empty when papers can be printed."""
    return [package for package, name in PANGO_PACKAGES.items() if not _loads(name)]


def _loads(name: str) -> bool:
    # Elsewhere than on Linux the same library has another ending, e.g. libpango-1.0.dylib.
    stem = name.removeprefix("lib").split(".so")[0]
    for candidate in (name, ctypes.util.find_library(stem)):
        try:
            if candidate and ctypes.CDLL(candidate):
                return True
        except OSError:
            continue
    return False


def scripts_without_a_font() -> dict[str, str]:
    """Scripts whose letters no font here has, each with the package that brings one.

    Asked of the fontconfig library, which also serves the printing press; empty without it.
    """
    try:
        fonts = ctypes.CDLL(ctypes.util.find_library("fontconfig") or "libfontconfig.so.1")
    except OSError:
        return {}
    return {
        script: package
        for script, (letter, package) in SCRIPTS.items()
        if not _a_font_has(fonts, letter)
    }


def _a_font_has(fonts: ctypes.CDLL, letter: str) -> bool:
    for name in ("FcPatternCreate", "FcCharSetCreate", "FcObjectSetBuild", "FcFontList"):
        getattr(fonts, name).restype = ctypes.c_void_p
    wanted, letters = fonts.FcPatternCreate(), fonts.FcCharSetCreate()
    fonts.FcCharSetAddChar(ctypes.c_void_p(letters), ctypes.c_uint32(ord(letter)))
    fonts.FcPatternAddCharSet(ctypes.c_void_p(wanted), b"charset", ctypes.c_void_p(letters))
    told = fonts.FcObjectSetBuild(b"family", None)
    # The answer begins with the number of fonts found.
    found = fonts.FcFontList(None, ctypes.c_void_p(wanted), ctypes.c_void_p(told))
    count = ctypes.cast(found, ctypes.POINTER(ctypes.c_int)).contents.value if found else 0
    if found:
        fonts.FcFontSetDestroy(ctypes.c_void_p(found))
    fonts.FcObjectSetDestroy(ctypes.c_void_p(told))
    fonts.FcCharSetDestroy(ctypes.c_void_p(letters))
    fonts.FcPatternDestroy(ctypes.c_void_p(wanted))
    return count > 0


APT_INSTALL = ("apt-get", "install", "-y", "--no-install-recommends")


def apt_line(packages: list[str]) -> str:
    """The line that a person can copy; a fresh machine has no list of packages yet."""
    return "apt-get update && " + " ".join([*APT_INSTALL, *packages])


def may_install() -> bool:
    """Whether apt is here and this user may use it."""
    return bool(shutil.which("apt-get")) and hasattr(os, "geteuid") and os.geteuid() == 0


def apt_install(packages: list[str], *, to: str) -> bool:
    """Install Debian packages; False when apt is absent, not allowed, or refuses."""
    if not may_install():
        return False
    say(f"Installing {', '.join(packages)} {to} ...")
    quietly = {
        "env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"},
        "stdin": subprocess.DEVNULL,
        "capture_output": True,
    }
    # A stale list is no reason to stop: the packages may still be had from it.
    subprocess.run(["apt-get", "update", "-qq"], check=False, **quietly)
    done = subprocess.run([*APT_INSTALL, *packages], check=False, **quietly)
    return done.returncode == 0


def look_for_pango() -> bool:
    """See to the libraries that print papers; say what to run when they cannot be had.

    Returns whether they are here. The rest of the workshop opens without them.
    """
    missing = missing_pango_packages()
    if not missing:
        return True
    if apt_install(missing, to="to print papers") and not missing_pango_packages():
        return True
    missing = missing_pango_packages()
    if sys.platform == "darwin":
        say("Papers cannot be printed to PDF yet. To mend that, run: brew install pango")
    else:
        say(f"Papers cannot be printed to PDF yet. To mend that, run as root: {apt_line(missing)}")
    return False


def check_folder(folder: Path) -> None:
    """Raise SetUpError unless files can be written in the folder, which is made when missing."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        if error.errno in NO_ROOM:
            raise SetUpError(no_room_sentence(folder)) from error
        theirs = folder if os.path.exists(folder) else folder.parent
        raise SetUpError(
            f"The folder {folder} cannot be written to ({error.strerror}). Strandwork keeps its "
            f"things there. To make it yours, run as root: {chown_line(theirs)}; or copy "
            "Strandwork into a folder of your own."
        ) from error


def check_host(host: str) -> None:
    """Raise SetUpError for an address that stands for every address at once."""
    if host in {"0.0.0.0", "::", "*", ""}:  # noqa: S104
        raise SetUpError(
            f"“{host}” would answer on every network at once. Give the one address that this "
            "computer has on the workshop's network, for example: --host 192.168.1.20"
        )


def check_port(host: str, port: int) -> None:
    """Raise SetUpError, naming a free neighbour, unless the port can be listened on."""
    if not 1 <= port <= 65535:
        raise SetUpError(f"{port} is no port; choose one from 1024 to 65535, for example 8000.")
    error = _listening_error(host, port)
    if error is None:
        return
    if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
        raise SetUpError(
            f"“{host}” is no address of this computer; leave --host out to use 127.0.0.1."
        )
    free = next(
        (near for near in range(max(port, 1023) + 1, 65536) if not _listening_error(host, near)),
        None,
    )
    advice = f" Choose another, for example: python3 manage.py open --port {free}" if free else ""
    if error.errno in {errno.EACCES, errno.EPERM}:
        raise SetUpError(f"Port {port} is kept for the computer's own services.{advice}")
    raise SetUpError(
        f"Port {port} on {host} is already taken, by another program or by a workshop that is "
        f"open already.{advice}"
    )


def _listening_error(host: str, port: int) -> OSError | None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        with socket.socket(family, socket.SOCK_STREAM) as trial:
            if os.name == "posix":
                # As the server does: a port that was closed a moment ago is free.
                trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind((host, port))
            trial.listen(1)
    except OSError as error:
        return error
    return None


def open_browser(address: str) -> bool:
    """Show the address in the browser of this desk; False where there is none to see it in."""
    if not has_a_screen():
        return False
    import threading
    import webbrowser

    # A browser that is slow to start must not keep the workshop from serving it.
    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    return True


def has_a_screen() -> bool:
    """Whether a browser could be seen: not over a bare line, where it would take the line over."""
    if os.environ.get("BROWSER"):
        return True
    if os.environ.get("SSH_CONNECTION"):
        return False
    if sys.platform in {"darwin", "win32"}:
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
