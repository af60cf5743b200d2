"""What this computer keeps of the phones' door: whether it is open, and its certificates.

In files beside the book rather than in it: a book that is brought to another computer must not
open a door there by itself.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from workshop.phone_door.network import own_addresses

if TYPE_CHECKING:
    from workshop.phone_door.authority import Authority


def is_open(folder: Path) -> bool:
    """Whether the desk lets phones of the local network in."""
    return (folder / "open").exists()


def set_open(folder: Path, wanted: bool) -> None:
    """Open or close the door from the next start of the desk on."""
    mark = folder / "open"
    if wanted:
        mark.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        mark.touch()
    else:
        mark.unlink(missing_ok=True)


@dataclass(frozen=True)
class Ports:
    """Where the desk listens: its own page, phones over TLS, and the certificate to install."""

    desk: int

    @property
    def phones(self) -> int:
        return self.desk + 1

    @property
    def certificate(self) -> int:
        return self.desk + 2


@dataclass(frozen=True)
class Desk:
    """Whose desk this is, and the port of its own page."""

    name: str
    port: int


@dataclass(frozen=True)
class Door:
    """The door as it stands: who vouches for it and where it is found now."""

    authority: "Authority"
    server_file: Path
    addresses: tuple[str, ...]
    ports: Ports

    @property
    def host(self) -> str:
        return self.authority.host

    @property
    def places(self) -> list[str]:
        """Name first, then addresses: a phone that cannot look up the name takes the address."""
        return [self.host, *self.addresses]

    @property
    def entrances(self) -> list[str]:
        """Where phones come in, by name first."""
        return [f"{self.address(place)}/" for place in self.places]

    def address(self, place: str = "") -> str:
        """Where phones come in, such as `https://192.168.1.20:8001`."""
        return f"https://{place or self.host}:{self.ports.phones}"

    @property
    def certificate_address(self) -> str:
        """Where a phone that trusts nothing yet finds the certificate."""
        return f"http://{(self.addresses or (self.host,))[0]}:{self.ports.certificate}/"


def door_here(folder: Path, desk: Desk) -> Door:
    """The door of this computer, its certificates made where they are missing or out of date."""
    # Signing is for the few moments when phones are let in; most workers never do.
    from workshop.phone_door.authority import keep_authority, keep_server_certificate

    addresses = own_addresses()
    authority = keep_authority(folder, desk.name)
    server = keep_server_certificate(folder, authority, addresses)
    return Door(authority, server, tuple(addresses), Ports(desk.port))
