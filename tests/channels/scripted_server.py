from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field

DROP = "drop"
USUAL = {
    "CONNECT": "220 here",
    "EHLO": "250 here",
    "HELO": "250 here",
    "MAIL": "250 ok",
    "RCPT": "250 ok",
    "DATA": "354 go on",
    "DOT": "250 taken",
    "RSET": "250 ok",
    "QUIT": "221 bye",
}


@dataclass
class ScriptedServer:
    """An SMTP server that answers as told: a line for each command, or `DROP` to hang up there.

    `DOT` is the answer to the end of a message. Whole messages are kept in `taken`, dropped ones too.
    """

    answers: Mapping[str, str]
    port: int = 0
    taken: list[bytes] = field(default_factory=list)
    connections: int = 0

    async def talk(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connections += 1
        try:
            if not await self._say(writer, "CONNECT"):
                return
            while line := await reader.readline():
                word = line.split()[0].decode().upper() if line.split() else ""
                if not await self._say(writer, word) or word == "QUIT":
                    return
                if word == "DATA" and self._answer("DATA").startswith("354"):
                    self.taken.append(await reader.readuntil(b"\r\n.\r\n"))
                    if not await self._say(writer, "DOT"):
                        return
        except (ConnectionError, asyncio.IncompleteReadError):
            return
        finally:
            writer.close()

    def _answer(self, word: str) -> str:
        return {**USUAL, **self.answers}.get(word, "502 what?")

    async def _say(self, writer: asyncio.StreamWriter, word: str) -> bool:
        answer = self._answer(word)
        if answer == DROP:
            return False
        writer.write(f"{answer}\r\n".encode())
        await writer.drain()
        return True


@contextmanager
def scripted(**answers: str) -> Iterator[ScriptedServer]:
    """A scripted server on a free port of this machine, in a thread of its own."""
    server, loop, ready = ScriptedServer(answers), asyncio.new_event_loop(), threading.Event()

    async def serve(stop: asyncio.Event) -> None:
        listening = await asyncio.start_server(server.talk, "127.0.0.1", 0)
        server.port = listening.sockets[0].getsockname()[1]
        ready.set()
        async with listening:
            await stop.wait()

    stop = asyncio.Event()
    thread = threading.Thread(target=loop.run_until_complete, args=(serve(stop),))
    thread.start()
    ready.wait(5)
    try:
        yield server
    finally:
        loop.call_soon_threadsafe(stop.set)
        thread.join(5)
        loop.close()
