"""The way between a phone and the desk, which can be cut at any moment, also amid an answer."""

import socket
import threading
from contextlib import closing, contextmanager, suppress

PIECE = 2048  # small, so that a cut falls amid pages too


class Air:
    """A relay on a port of its own; while it is cut, whoever calls is sent away at once."""

    def __init__(self, to_port: int) -> None:
        self.to_port, self.is_cut = to_port, False
        self.ends: list[socket.socket] = []
        self.door = socket.create_server(("127.0.0.1", 0))
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self._let_in, daemon=True).start()

    def cut(self) -> None:
        self.is_cut = True
        ends, self.ends = self.ends, []
        for end in ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def mend(self) -> None:
        self.is_cut = False

    def _let_in(self) -> None:
        with suppress(OSError):
            while True:
                phone, _where = self.door.accept()
                threading.Thread(target=self._join, args=(phone,), daemon=True).start()

    def _join(self, phone: socket.socket) -> None:
        with closing(phone), suppress(OSError):
            if self.is_cut:
                return
            with socket.create_connection(("127.0.0.1", self.to_port)) as desk:
                self.ends += [phone, desk]
                back = threading.Thread(target=self._carry, args=(desk, phone), daemon=True)
                back.start()
                self._carry(phone, desk)
                back.join()

    @staticmethod
    def _carry(one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while piece := one.recv(PIECE):
                other.sendall(piece)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)


@contextmanager
def air_to(port: int):
    air = Air(port)
    try:
        yield air
    finally:
        air.door.close()
        air.cut()
