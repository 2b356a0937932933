"""The service's TLS, tried with other people's clients: OpenSSL (also as Python's ssl), curl, and
the WebSockets of python3-websockets. RFC 8446, RFC 8996, RFC 9325; RFC 6265bis for __Host-."""

import asyncio
import json
import os
import pathlib
import re
import socket
import ssl
import subprocess
import sys
import tempfile
import time
import unittest
import warnings

import websockets

sys.dont_write_bytecode = True
ROOT = pathlib.Path(__file__).resolve().parents[3]
FLOOR = ROOT / "protocol" / "samples" / "small.floor.json"
PATIENCE_S = 30
HELLO = {"type": "hello", "cart": "cart-1", "key": "sample-key-of-cart-1", "boot": "k7",
         "last_tag": "", "step": 0, "until": 0, "loaded": False, "battery": 87, "stopped": False}


def openssl(*words):
    subprocess.run(["openssl", *map(str, words)], check=True, capture_output=True)


def certificate(folder, name):
    """A key and a certificate that is its own root, for 127.0.0.1."""
    key, cert = folder / f"{name}.key.pem", folder / f"{name}.pem"
    openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
            "-keyout", key, "-out", cert, "-days", "30", "-subj", "/CN=works.example",
            "-addext", "subjectAltName=IP:127.0.0.1,DNS:works.example")
    return cert, key


def certificate_of_january_2020(folder, key):
    """"openssl req" makes none that has run out, but "openssl ca" does."""
    request, cert, ca = folder / "old.request", folder / "old.pem", folder / "ca.conf"
    (folder / "index").touch()
    (folder / "serial").write_text("01")
    ca.write_text(f"[ca]\ndefault_ca = one\n[one]\ndatabase = {folder}/index\nserial = "
                  f"{folder}/serial\nnew_certs_dir = {folder}\ndefault_md = sha256\n"
                  "policy = any\n[any]\ncommonName = supplied\n")
    openssl("req", "-new", "-key", key, "-out", request, "-subj", "/CN=works.example")
    openssl("ca", "-config", ca, "-selfsign", "-keyfile", key, "-in", request, "-out", cert,
            "-startdate", "20200101000000Z", "-enddate", "20200201000000Z", "-batch", "-notext")
    return cert


class Tls(unittest.TestCase):
    def setUp(self):
        self.program = os.environ.get("TAGLINE_BIN")
        self.assertTrue(self.program, "TAGLINE_BIN must name the tagline program")
        folder = tempfile.TemporaryDirectory(prefix="tagline-tls-")
        self.addCleanup(folder.cleanup)
        self.path = pathlib.Path(folder.name)
        (self.path / "fleet.json").write_text(json.dumps({
            "format": "tagline-fleet/1",
            "carts": [{"id": "cart-1", "key": "sample-key-of-cart-1", "home": "H1"}]}))
        self.cert, self.key = certificate(self.path, "works")

    def command(self, *more):
        return [self.program, "serve", "--floor", FLOOR, "--fleet", self.path / "fleet.json",
                "--data", self.path / "data", "--port", "0", "--port-file", self.path / "port",
                *more]

    def start(self, *more):
        self.log = open(self.path / "log", "w+")
        self.addCleanup(self.log.close)
        process = subprocess.Popen(
            self.command("--tls-certificate", self.cert, "--tls-key", self.key, *more),
            stdin=subprocess.DEVNULL, stdout=self.log, stderr=self.log)
        self.addCleanup(process.wait)
        self.addCleanup(process.terminate)
        until = time.monotonic() + PATIENCE_S
        while not (self.path / "port").exists():
            self.assertIsNone(process.poll(), "the service ended: " + self.said())
            self.assertLess(time.monotonic(), until, "the service does not start")
            time.sleep(0.02)
        self.port = int((self.path / "port").read_text())
        self.at = f"127.0.0.1:{self.port}"

    def said(self):
        return (self.path / "log").read_text()

    def curl(self, *words):
        """Status, header fields and body. Fails if curl doesn't trust or understand the answer."""
        done = subprocess.run(
            ["curl", "-sS", "--cacert", self.cert, "--max-time", "10", "-D", self.path / "head",
             "-o", self.path / "body", "-w", "%{http_code}", *map(str, words)],
            capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        head = (self.path / "head").read_text()
        fields = {}
        for line in head.splitlines()[1:]:
            name, colon, value = line.partition(": ")
            if colon:
                fields[name.lower()] = value
        return int(done.stdout), fields, (self.path / "body").read_text()

    def context(self):
        return ssl.create_default_context(cafile=str(self.cert))

    def handshake(self, context):
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as plain:
            with context.wrap_socket(plain, server_hostname="127.0.0.1") as secure:
                return secure.version(), secure.cipher()[0]

    # ---- pages and the interface

    def test_answers_over_tls_and_ends_it_in_order(self):
        self.start()
        status, _, body = self.curl(f"https://{self.at}/api/health")
        self.assertEqual((status, json.loads(body)["status"]), (200, "ok"))
        # A close_notify, without which OpenSSL's own client says that the end is not to be trusted.
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as plain:
            with self.context().wrap_socket(plain, server_hostname="127.0.0.1",
                                            suppress_ragged_eofs=False) as secure:
                secure.sendall(f"GET /api/health HTTP/1.1\r\nHost: {self.at}\r\n"
                               "Connection: close\r\n\r\n".encode())
                answer = b""
                while piece := secure.recv(4096):
                    answer += piece
        self.assertIn(b"200 OK", answer)

    def test_speaks_1_3_and_1_2_and_nothing_older_or_weaker(self):
        self.start()
        self.assertEqual(self.handshake(self.context())[0], "TLSv1.3")
        older = self.context()
        older.maximum_version = ssl.TLSVersion.TLSv1_2
        version, cipher = self.handshake(older)
        self.assertEqual(version, "TLSv1.2")
        self.assertRegex(cipher, "^ECDHE-.*(GCM|CHACHA20)")
        oldest = self.context()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            oldest.minimum_version = ssl.TLSVersion.TLSv1
            oldest.maximum_version = ssl.TLSVersion.TLSv1_1
        oldest.set_ciphers("ALL:@SECLEVEL=0")  # or this machine's client would not even ask
        with self.assertRaises(ssl.SSLError):
            self.handshake(oldest)
        weak = self.context()
        weak.maximum_version = ssl.TLSVersion.TLSv1_2
        weak.set_ciphers("ECDHE-ECDSA-AES128-SHA")
        with self.assertRaises(ssl.SSLError):
            self.handshake(weak)

    def test_who_asks_in_the_clear_is_led_or_turned_away(self):
        self.start()
        status, fields, _ = self.curl(f"http://{self.at}/here/PACK?x=1")
        self.assertEqual((status, fields["location"]), (308, f"https://{self.at}/here/PACK?x=1"))
        status, _, body = self.curl("-d", "{}", "-H", "Content-Type: application/json",
                                    f"http://{self.at}/api/sign-in")
        self.assertEqual((status, json.loads(body)["type"].rsplit("/", 1)[-1].rsplit(":", 1)[-1]),
                         (403, "tls_only"))
        # Nobody can have it lead a browser to somewhere else.
        status, fields, _ = self.curl("-H", "Host: other.example", f"http://{self.at}/")
        self.assertEqual((status, fields.get("location")), (421, None))

    def test_a_session_lives_in_a_cookie_that_only_tls_carries(self):
        self.start()
        code = re.search(r"setup code (\S+):", self.said()).group(1)
        wish = json.dumps({"code": code, "name": "mira", "password": "a-long-pottery-word"})
        words = ["-d", wish, "-H", "Content-Type: application/json", "-H",
                 f"Origin: https://{self.at}", f"https://{self.at}/api/setup"]
        status, fields, body = self.curl(*words)
        self.assertIn(status, (200, 201), body)
        self.assertRegex(fields["set-cookie"], r"^__Host-.*; Secure$|^__Host-.*; Secure;")
        # A page that came in the clear may be anybody's.
        words[5] = f"Origin: http://{self.at}"
        words[6] = f"https://{self.at}/api/sign-in"
        status, _, body = self.curl(*words)
        self.assertEqual(status, 403, body)

    # ---- carts

    async def link(self, scheme, **more):
        async with websockets.connect(f"{scheme}://{self.at}/cart",
                                      subprotocols=["tagline.cart.1"], **more) as cart:
            await cart.send(json.dumps(HELLO))
            return json.loads(await asyncio.wait_for(cart.recv(), 10))["type"]

    def test_carts_link_through_tls(self):
        self.start()
        self.assertEqual(asyncio.run(self.link("wss", ssl=self.context())), "welcome")

    def test_carts_link_in_the_clear_only_where_that_was_chosen(self):
        self.start()
        with self.assertRaises(websockets.InvalidStatusCode) as refused:
            asyncio.run(self.link("ws"))
        self.assertEqual(refused.exception.status_code, 403)

    def virtual_cart(self, url, *more):
        """`tagline cart`, until it says something of its link; what it said."""
        process = subprocess.Popen(
            list(map(str, [self.program, "cart", "--floor", FLOOR, "--fleet",
                           self.path / "fleet.json", "--url", url, *more])),
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        try:
            return process.stdout.readline()
        finally:
            process.terminate()
            process.communicate(timeout=PATIENCE_S)

    def test_virtual_carts_link_through_tls_and_trust_only_whom_they_should(self):
        self.start()
        url = f"wss://{self.at}/cart"
        self.assertIn("cart-1: connected", self.virtual_cart(url, "--tls-root", self.cert))
        # This machine doesn't know the shop's own certificate.
        self.assertIn("not trusted", self.virtual_cart(url))
        other, _ = certificate(self.path, "other")
        self.assertIn("not trusted", self.virtual_cart(url, "--tls-root", other))
        # The certificate is for 127.0.0.1 and works.example, and for no other name.
        named = self.virtual_cart(f"wss://localhost:{self.port}/cart", "--tls-root", self.cert)
        self.assertIn('not for "localhost"', named)

    def test_a_root_that_cannot_be_used_is_refused(self):
        for words, why in ((("--url", "wss://127.0.0.1:1/cart", "--tls-root", self.key), "PEM"),
                           (("--url", "wss://127.0.0.1:1/cart", "--tls-root", "/none"), "/none"),
                           (("--url", "ws://127.0.0.1:1/cart", "--tls-root", self.cert), "wss")):
            done = subprocess.run(
                list(map(str, [self.program, "cart", "--floor", FLOOR, "--fleet",
                               self.path / "fleet.json", *words])),
                capture_output=True, text=True, timeout=PATIENCE_S, check=False)
            self.assertEqual(done.returncode, 2, done.stderr)
            self.assertIn(why, done.stderr)

    def test_plain_carts_are_let_in_where_that_was_chosen_and_nobody_else(self):
        self.start("--plain-carts")
        self.assertEqual(asyncio.run(self.link("ws")), "welcome")
        self.assertEqual(self.curl(f"http://{self.at}/api/health")[0], 308)

    # ---- bad files, bad clients

    def refusal(self, cert, key):
        done = subprocess.run(self.command("--tls-certificate", cert, "--tls-key", key),
                              capture_output=True, text=True, timeout=30, check=False)
        self.assertEqual(done.returncode, 2, done.stderr)
        return done.stdout + done.stderr

    def test_files_that_will_not_do_are_said_at_the_start(self):
        _, other_key = certificate(self.path, "other")
        self.assertIn("key", self.refusal(self.cert, other_key))
        self.assertIn("can't read the certificate", self.refusal(self.path / "none.pem", self.key))
        self.assertIn("no certificate in", self.refusal(self.path / "fleet.json", self.key))
        old = certificate_of_january_2020(self.path, self.key)
        self.assertIn("has run out", self.refusal(old, self.key))
        locked = self.path / "locked.pem"
        openssl("ec", "-in", self.key, "-aes256", "-passout", "pass:kiln", "-out", locked)
        self.assertIn("without a password", self.refusal(self.cert, locked))
        self.assertFalse((self.path / "data").exists(), "something was begun")

    def test_broken_and_silent_handshakes_hold_nobody_up(self):
        self.start()
        silent = [socket.create_connection(("127.0.0.1", self.port)) for _ in range(200)]
        for one in silent[:100]:
            one.sendall(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc")  # the beginning of a greeting
        for _ in range(100):
            with socket.create_connection(("127.0.0.1", self.port), timeout=10) as one:
                one.sendall(b"\x16\x03\x01\x00\x05hello" * 20)
        self.assertEqual(self.curl(f"https://{self.at}/api/health")[0], 200)
        # Each is cut when its time for a first request is over, 10 s.
        begun = time.monotonic()
        for one in silent:
            one.settimeout(15)
            while one.recv(100):
                pass
            one.close()
        self.assertLess(time.monotonic() - begun, 15)
        self.assertEqual(self.curl(f"https://{self.at}/api/health")[0], 200)


if __name__ == "__main__":
    unittest.main()
