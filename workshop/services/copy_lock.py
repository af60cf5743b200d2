"""A copy locked with a phrase: AES-256-GCM in pieces, the key made from the phrase by scrypt.

Pieces follow the STREAM construction (Hoang, Reyhanitabar, Rogaway and Vizár, 2015): each piece's
nonce carries its number and whether it is the last, so none can be changed, moved, repeated or
cut off without being noticed. scrypt: RFC 7914, N = 2^15, r = 8, p = 1 (32 MiB a try).
"""

import os
import struct
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

MAGIC = b"STRANDWORK LOCKED COPY 1\n"
SALT_BYTES, PREFIX_BYTES, TAG_BYTES = 16, 7, 16
PIECE_BYTES = 1 << 20


class WrongPhrase(ValueError):
    """The phrase does not fit, or the file is not what was written; AES-GCM cannot tell which."""


def is_locked(path: Path) -> bool:
    """Whether a file is a locked copy."""
    with path.open("rb") as file:
        return file.read(len(MAGIC)) == MAGIC


def lock(plain: Path, locked: Path, phrase: str) -> None:
    """Write `locked` from `plain`."""
    salt, prefix = os.urandom(SALT_BYTES), os.urandom(PREFIX_BYTES)
    head = MAGIC + salt + prefix
    cipher = _cipher(phrase, salt)
    with plain.open("rb") as source, locked.open("wb") as target:
        target.write(head)
        number, piece = 0, source.read(PIECE_BYTES)
        while True:
            following = source.read(PIECE_BYTES)
            nonce = _nonce(prefix, number, last=not following)
            target.write(cipher.encrypt(nonce, piece, head))
            if not following:
                break
            number, piece = number + 1, following
        target.flush()
        os.fsync(target.fileno())


def unlock(locked: Path, plain: Path, phrase: str) -> None:
    """Write `plain` from `locked`; raises WrongPhrase and leaves nothing if anything is amiss."""
    from cryptography.exceptions import InvalidTag

    try:
        with locked.open("rb") as source, plain.open("wb") as target:
            head = source.read(len(MAGIC) + SALT_BYTES + PREFIX_BYTES)
            if not head.startswith(MAGIC) or len(head) < len(MAGIC) + SALT_BYTES + PREFIX_BYTES:
                raise WrongPhrase
            prefix = head[-PREFIX_BYTES:]
            cipher = _cipher(phrase, head[len(MAGIC) : -PREFIX_BYTES])
            number, piece = 0, source.read(PIECE_BYTES + TAG_BYTES)
            while True:
                following = source.read(PIECE_BYTES + TAG_BYTES)
                nonce = _nonce(prefix, number, last=not following)
                target.write(cipher.decrypt(nonce, piece, head))
                if not following:
                    break
                number, piece = number + 1, following
    except (InvalidTag, ValueError) as error:
        plain.unlink(missing_ok=True)
        raise WrongPhrase from error


def _cipher(phrase: str, salt: bytes) -> "AESGCM":
    # Every worker knows copies, and hardly one ever locks any.
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    return AESGCM(Scrypt(salt=salt, length=32, n=1 << 15, r=8, p=1).derive(phrase.encode()))


def _nonce(prefix: bytes, number: int, *, last: bool) -> bytes:
    return prefix + struct.pack(">IB", number, last)
