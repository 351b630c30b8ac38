"""A go-between to PostgreSQL that cuts the connection at a commit, before it has been passed on or after it was done."""
import socket
import struct
import threading
import urllib.parse


class Cut:
    """Listens on a port of its own. `at` is None, "before" or "after" the commit."""

    def __init__(self, cluster_address):
        address = urllib.parse.urlsplit(cluster_address)
        self.host, self.upstream_port = urllib.parse.unquote(address.hostname or "localhost"), address.port or 5432
        self.at, self.cut, self.lock = None, 0, threading.Lock()
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.port = self.socket.getsockname()[1]
        self.address = f"postgres://{address.username or 'fig'}@127.0.0.1:{self.port}/"
        threading.Thread(target=self.serve, daemon=True).start()

    def upstream(self):
        if self.host.startswith("/"):
            stream = socket.socket(socket.AF_UNIX)
            stream.connect(f"{self.host}/.s.PGSQL.{self.upstream_port}")
            return stream
        return socket.create_connection((self.host, self.upstream_port))

    def serve(self):
        while True:
            client, _ = self.socket.accept()
            server = self.upstream()
            silent = threading.Event()
            threading.Thread(target=self.up, args=(client, server, silent), daemon=True).start()
            threading.Thread(target=self.down, args=(client, server, silent), daemon=True).start()

    @staticmethod
    def read(stream, count):
        got = b""
        while len(got) < count:
            more = stream.recv(count - len(got))
            if not more:
                raise OSError("closed")
            got += more
        return got

    def up(self, client, server, silent):
        """Message by message: the first has a length alone, the others a letter before it."""
        try:
            letter = b""
            while True:
                length = self.read(client, 4)
                body = self.read(client, struct.unpack("!I", length)[0] - 4)
                wanted = self.at if letter == b"Q" and body.rstrip(b"\0").strip().upper() == b"COMMIT" else None
                if wanted:
                    with self.lock:
                        self.cut += 1
                if wanted == "before":
                    break
                if wanted == "after":
                    # What the server says to it goes nowhere; the thread that reads it ends both.
                    silent.set()
                server.sendall(letter + length + body)
                letter = self.read(client, 1)
        except OSError:
            pass
        if not silent.is_set():
            self.end(client, server)

    def down(self, client, server, silent):
        try:
            while True:
                said = server.recv(65_536)
                if not said or silent.is_set():
                    break
                client.sendall(said)
        except OSError:
            pass
        self.end(client, server)

    @staticmethod
    def end(*streams):
        for stream in streams:
            try:
                stream.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass
