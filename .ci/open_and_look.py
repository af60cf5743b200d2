"""Run the README's open command on an empty book, look at the first page, close with Ctrl-C."""

import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request

LIMIT_S = 120


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]


def main() -> int:
    port = free_port()
    began = time.monotonic()
    desk = subprocess.Popen(
        [sys.executable, "manage.py", "open", "--port", str(port)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ},
    )
    watchdog = threading.Timer(LIMIT_S, desk.kill)
    watchdog.start()
    try:
        opened = False
        for line in desk.stdout:
            # A password is for the person at the desk, not for a log.
            shown = re.sub(r"( signs in as +\S+ +)\S+", r"\1(a password)", line.rstrip())
            print("  |", shown)
            if f"127.0.0.1:{port}" in line:
                opened = True
                break
        if not opened:
            print("It did not open.")
            return 1
        print(f"Open after {time.monotonic() - began:.1f} s.")
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=30) as page:
            print(f"The first page: {page.status}, {len(page.read())} bytes.")
        desk.send_signal(signal.SIGINT)
        code = desk.wait(timeout=20)
        print(f"Closed by Ctrl-C with exit code {code}.")
        return code
    finally:
        watchdog.cancel()
        desk.kill()


if __name__ == "__main__":
    sys.exit(main())
