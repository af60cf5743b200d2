"""Which addresses this computer has on the workshop's network, and who is near."""

import ipaddress
import socket

# Addresses that the internet does not carry (RFC 1918, 3927, 4193, 4291).
NEAR = tuple(
    ipaddress.ip_network(each)
    for each in (
        *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16"),
        *("fc00::/7", "fe80::/10"),
    )
)


def is_near(address: str) -> bool:
    """Whether an address is this computer's or one of the local network."""
    try:
        known = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return False
    mapped = getattr(known, "ipv4_mapped", None) or known
    return mapped.is_loopback or any(
        mapped in each for each in NEAR if each.version == mapped.version
    )


def own_addresses() -> list[str]:
    """This computer's private IPv4 addresses, the one it mostly speaks from first."""
    import ifaddr

    found = [
        str(each.ip)
        for adapter in ifaddr.get_adapters()
        for each in adapter.ips
        if each.is_IPv4 and is_near(str(each.ip)) and not str(each.ip).startswith("127.")
    ]
    first = _speaks_from()
    return sorted(dict.fromkeys(found), key=lambda each: (each != first, each))


def _speaks_from() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as trial:
        try:
            # Nothing is sent: the system is only asked which way it would go.
            trial.connect(("192.168.255.254", 9))
        except OSError:
            return ""
        return trial.getsockname()[0]
