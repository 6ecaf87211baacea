"""The pages strangers see, as files for any web host: the same templates as the live ones, with ways that lead
from file to file, so that they open from a memory stick too."""

import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

from ledger.checks import Check
from ledger.paths import PACKAGE, folder
from ledger.publish import Facts
from ledger.reckoning import codes, dates
from ledger.web.pages import environment
from ledger.web.public import NOTHING, in_the_record

NOT_HERE = "There is no such page here: that certificate is not in the record as it was published."


class StaticPages:
    """Draws what `publish` lays out."""

    def __init__(self, facts: Facts) -> None:
        self._facts = facts
        self._check = environment().get_template("published/check.html")

    def certificate(self, found: Check, *, with_picture: bool) -> bytes:
        """The page a certificate's QR code leads to, at C/CODE/."""
        shown, root = in_the_record(found), "../../"
        picture = shown["print"]["picture"]
        if picture:
            picture["src"] = f"{root}pictures/{found.snapshot['show']}.jpg"
        shown["print"]["picture"] = picture if with_picture else None
        said = found.snapshot
        about = f"{said['title']}, {said['inscription']}, certificate {codes.grouped(found.code)}"
        shown |= {
            "about": about,
            "place": found.place,
            "own": self._email("I own this print now", f"I own this print now: {about}.\n\nSince:\nName, address:\n"),
            "ask": self._email("Ask about a print", f"I have a question about {about}.\n\n"),
        }
        return self._drawn(root, shown)

    def _email(self, subject: str, body: str) -> str:
        if not self._facts.email:
            return ""
        written = body.replace("\n", "\r\n")  # RFC 6068, section 5
        return f"mailto:{quote(self._facts.email, safe='@')}?subject={quote(subject)}&body={quote(written)}"

    def _drawn(self, root: str, shown: dict[str, Any]) -> bytes:
        return self._check.render(self._around(root) | shown | {"record_line": "as of"}).encode()

    def _around(self, root: str) -> dict[str, Any]:
        facts = self._facts
        return {
            "static": lambda name: f"{root}look/{name}",
            "root": root,
            "as_of": facts.as_of,
            "maker_name": facts.maker_name,
            "studio": facts,
            "site": facts.address,
            "address_words": f"{facts.address.split('://', 1)[1]}/C/" if facts.address else "",
            "about": "",
            "own": "",
            "ask": self._email("Ask about a print", ""),
        }

    def moved(self, to: str) -> bytes:
        """The page at a former address."""
        page = environment().get_template("published/moved.html")
        return page.render(to=to, maker_name=self._facts.maker_name).encode()

    def around(self) -> Iterator[tuple[str, bytes]]:
        """Everything but certificates: the box for a code, what a host shows in vain, the auditor, the looks."""
        for path, root in (("index.html", ""), ("c/index.html", "../"), ("C/index.html", "../")):
            yield path, self._drawn(root, NOTHING | {"action": f"{root}c/index.html"})
        missed = NOTHING | {"verdict": "not in the record", "why": NOT_HERE, "action": "/c/"}
        yield "404.html", self._drawn("/", missed)
        audit = environment().get_template("published/audit.html")
        yield "audit/index.html", audit.render(self._around("../")).encode()
        yield "audit.py", (PACKAGE / "auditor.py").read_bytes()
        templates = folder("templates")
        for name in ("book.css", "tab.svg"):
            yield f"look/{name}", (templates / "static" / name).read_bytes()
        yield "look/check.js", (templates / "published" / "check.js").read_bytes()
        day = {"day": self._facts.as_of.isoformat(), "said": dates.said(self._facts.as_of)}
        yield "look/as-of.js", f"window.published = {json.dumps(day)};\n".encode()
