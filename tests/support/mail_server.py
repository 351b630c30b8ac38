"""A mail server of other people's making (aiosmtpd) with STARTTLS, as the tests need it.

    mail_server.py CERTIFICATE KEY MANNER

Says its port in the first line, then one line of JSON for each letter offered. MANNER: `take`, `refuse` (550), `greylist` (451 at the first
offer of a letter), `hang` (never answers a letter). Ends when its standard input is closed.
"""

import asyncio
import base64
import email
import json
import ssl
import sys

from aiosmtpd.smtp import SMTP, AuthResult


def authenticate(server, session, envelope, mechanism, data):
    known = mechanism in ("PLAIN", "LOGIN") and (data.login, data.password) == (b"figs", b"under the leaves")
    return AuthResult(success=known, handled=known)


class Handler:
    def __init__(self, manner):
        self.manner, self.offered = manner, set()

    async def handle_RCPT(self, server, session, envelope, address, options):
        if self.manner == "refuse":
            return "550 5.1.1 no such mailbox"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        name = str(email.message_from_bytes(envelope.content)["Message-ID"])
        first, taken = name not in self.offered, self.manner == "take"
        self.offered.add(name)
        if self.manner == "greylist" and not first:
            taken = True
        print(json.dumps({
            "taken": taken, "to": envelope.rcpt_tos, "from": envelope.mail_from, "encrypted": session.ssl is not None,
            "signed_in": bool(session.authenticated), "message_id": name, "raw": base64.b64encode(envelope.content).decode(),
        }), flush=True)
        if self.manner == "hang":
            await asyncio.sleep(3600)
        return "250 OK" if taken else "451 4.7.1 come back later"


async def main(certificate, key, manner):
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)
    handler = Handler(manner)

    def speak():
        return SMTP(handler, hostname="relay.example.org", tls_context=context, require_starttls=True, auth_required=True, authenticator=authenticate)

    loop = asyncio.get_running_loop()
    server = await loop.create_server(speak, "127.0.0.1", 0)
    print(server.sockets[0].getsockname()[1], flush=True)
    await loop.run_in_executor(None, sys.stdin.read)
    server.close()


asyncio.run(main(*sys.argv[1:4]))
