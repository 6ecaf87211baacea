"""Files carried inside a PDF (ISO 32000-2, 7.11.4), with ReportLab alone."""

import zlib
from collections.abc import Mapping
from typing import Any

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFStream, PDFString

KINDS = {".json": "application/json", ".tlog-proof": "text/plain"}


def attach(canvas: Any, files: Mapping[str, bytes]) -> None:
    """Put these files into the PDF being made, byte for byte, under their names."""
    if not files:
        return
    document = canvas._doc
    listed: list[Any] = []
    for name, data in sorted(files.items()):  # a tree of names is read by halving it
        listed += [PDFString(name), document.Reference(_described(document, name, data))]
    names = PDFDictionary({"EmbeddedFiles": PDFDictionary({"Names": PDFArray(listed)})})
    document.Catalog.Names = names


def _described(document: Any, name: str, data: bytes) -> Any:
    kind = next(kind for ending, kind in KINDS.items() if name.endswith(ending))
    about = {
        "Type": PDFName("EmbeddedFile"),
        "Subtype": PDFName(kind).replace("application/", "application#2F").replace("text/", "text#2F"),
        "Filter": PDFName("FlateDecode"),
        "Params": PDFDictionary({"Size": len(data)}),
    }
    held = document.Reference(PDFStream(PDFDictionary(about), zlib.compress(data, 9), filters=[]))
    return PDFDictionary(
        {
            "Type": PDFName("Filespec"),
            "F": PDFString(name),
            "UF": PDFString(name),
            "AFRelationship": PDFName("Data"),
            "EF": PDFDictionary({"F": held, "UF": held}),
        }
    )
