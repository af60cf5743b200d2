"""What a disk without power is left with: writes replayed as a drive may have kept them.

`strace` writes down every write and every sync of the book's files. A drive keeps for certain what
was synced; of what came after, it may have kept nothing, everything, or any sectors in any order.
"""

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512  # the least that a drive writes whole: ATA and NVMe, the usual logical sector
CALLS = "pwrite64,fsync,fdatasync,ftruncate"
CALL = re.compile(
    r"(?P<at>[\d.]+) (?P<name>\w+)\(\d+<(?P<path>[^>]*)>"
    r'(?:, "(?P<data>[^"]*)"(?P<cut>\.\.\.)?, \d+, (?P<offset>\d+)|, (?P<length>\d+))?'
)
NOTHING, EVERYTHING, ANY_SECTORS = "nothing", "everything", "any sectors"


def recorder(program: str, log: Path) -> tuple[str, ...]:
    """What stands before a command whose writes are to be written down."""
    return (program, "-f", "-qq", "-ttt", "-y", "-xx", "-s", "1000000", "-e", "signal=none",
            "-e", f"trace={CALLS}", "-o", str(log))  # fmt: skip


@dataclass(frozen=True)
class Call:
    """One call to the system: when, to which file, and what."""

    at: float
    name: str
    path: str
    data: bytes = b""
    offset: int = 0


def calls(log: Path, ends: tuple[str, ...]) -> Iterator[Call]:
    """The calls on files whose names end so, each where it was done."""
    begun: dict[str, Call] = {}
    with log.open(encoding="ascii") as lines:
        for line in lines:
            process, _space, rest = line.partition(" ")
            rest = rest.lstrip()
            if " resumed>" in rest:
                if call := begun.pop(process, None):
                    yield call
                continue
            found = CALL.match(rest)
            assert found, line[:200]
            path = unhex(found["path"]).decode()
            if not path.endswith(ends):
                continue
            assert not found["cut"], "a write was not written down whole"
            call = Call(
                float(found["at"]), found["name"], path,
                unhex(found["data"] or ""), int(found["offset"] or found["length"] or 0),
            )  # fmt: skip
            if "<unfinished" in rest:
                begun[process] = call
            else:
                yield call


def unhex(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


@dataclass
class File:
    """One file on the drive: what is kept for certain, and what was written since."""

    kept: bytearray
    since: list[Call] = field(default_factory=list)

    def take(self, call: Call, *, syncs: bool) -> None:
        if call.name in {"fsync", "fdatasync"}:
            if syncs:
                for write in self.since:
                    apply(self.kept, write)
                self.since.clear()
        else:
            self.since.append(call)

    def after_a_cut(self, how: str, chance: random.Random) -> bytes:
        left = bytearray(self.kept)
        if how == NOTHING:
            return bytes(left)
        for write in self.since:
            if how == EVERYTHING or write.name == "ftruncate":
                if how == EVERYTHING or chance.random() < 0.5:
                    apply(left, write)
                continue
            for start in range(0, len(write.data), SECTOR):
                if chance.random() < 0.5:
                    piece = write.data[start : start + SECTOR]
                    apply(left, Call(write.at, write.name, "", piece, write.offset + start))
        return bytes(left)


def apply(content: bytearray, write: Call) -> None:
    if write.name == "ftruncate":
        del content[write.offset :]
        content.extend(bytes(write.offset - len(content)))
        return
    if len(content) < write.offset:
        content.extend(bytes(write.offset - len(content)))
    content[write.offset : write.offset + len(write.data)] = write.data
