"""The desk's worker while its door for phones is open: three sockets, each with its own manners."""

import time
from collections.abc import Callable
from typing import Any

from django.conf import settings

from workshop.patient_server import Lanes, PatientServer, PatientWorker
from workshop.phone_door import BY_PHONE
from workshop.phone_door.folder import Door, door_here
from workshop.phone_door.network import own_addresses
from workshop.phone_door.page import certificate_page
from workshop.phone_door.tls import TlsServer, tls_context

LOOK_AT_NETWORK_S = 10


def through_the_phones_door(app: Callable) -> Callable:
    def marked(environ: dict, start: Callable) -> Any:
        environ[BY_PHONE] = True
        return app(environ, start)

    return marked


class DoorWorker(PatientWorker):
    """Serves the desk as ever, phones over TLS, and the one page that a new phone needs."""

    door: Door
    looked_at: float

    def run(self) -> None:
        self.door = door_here(settings.PHONES_DIR, settings.PHONES)
        self.looked_at = time.monotonic()
        super().run()

    def notify(self) -> None:
        super().notify()
        if time.monotonic() - self.looked_at > LOOK_AT_NETWORK_S:
            self.looked_at = time.monotonic()
            if tuple(own_addresses()) != self.door.addresses:
                self._follow_the_network()

    def _follow_the_network(self) -> None:
        """A computer that was carried to another network answers there, under a new certificate."""
        self.door = door_here(settings.PHONES_DIR, settings.PHONES)
        allow_hosts(self.door)
        for server in self.servers:
            if isinstance(server, TlsServer):
                server.context.load_cert_chain(self.door.server_file)

    def _server(self, sock: Any, doors: dict, lanes: Lanes, *args: Any, **kwargs: Any) -> Any:
        port = sock.getsockname()[1]
        if port == self.door.ports.phones:
            server = super()._server(
                *(sock, doors, lanes, TlsServer),
                app=through_the_phones_door(self.wsgi),
                url_scheme="https",
            )
            assert isinstance(server, TlsServer)
            server.context = tls_context(self.door.server_file)
            return server
        if port == self.door.ports.certificate:
            page = certificate_page(lambda: self.door)
            return super()._server(
                *(sock, doors, lanes, PatientServer), app=page, max_request_body_size=1 << 10
            )
        return super()._server(sock, doors, lanes)


def allow_hosts(door: Door) -> None:
    """Answer to the name and the addresses of this computer."""
    settings.ALLOWED_HOSTS.extend(
        each for each in door.places if each not in settings.ALLOWED_HOSTS
    )
