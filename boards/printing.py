"""Sheets as PDF: the only module that imports WeasyPrint.

The sheets are rendered in a process of its own, kept from one print to the next. A sheet that takes for ever or
brings the renderer down costs that process and a sentence on a page, not the shop its server.
"""

from __future__ import annotations

import atexit
import functools
import io
import json
import logging
import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, BinaryIO

from shop.fonts import WEIGHTS, font_file

logger = logging.getLogger(__name__)

CHECKOUT = Path(__file__).resolve().parent.parent
STYLE_SHEET = CHECKOUT / "templates" / "print" / "print.css"

SECONDS_TO_START = 30  # the first print on a slow machine: imports, fonts
SECONDS_PER_SHEET = 10
SECONDS_IN_LINE = 60
PRESSES = os.cpu_count() or 1
PRINTS_PER_PROCESS = 200  # then a fresh one, whatever the old one may have piled up


class PrintingFailed(Exception):
    """A sheet was not printed; the message says why, in words for the person who wanted it."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """What goes round with one board, as HTML; pages are numbered within it.

    `notes` is a page that is added where the sheet ends on an odd page and another follows: a printer that prints on
    both sides would put two boards on one piece of paper.
    """

    html: str
    notes: str = ""


def print_pdf(sheets: Sequence[Sheet], title: str, *, true_size: bool = False) -> bytes:
    """Render sheets to one PDF. Call it outside of any transaction: it takes its time.

    Parameters
    ----------
    sheets : sequence of Sheet
        What is printed.
    title : str
        What the PDF is called in a viewer.
    true_size : bool
        The print dialogue is told not to scale, and to leave the backs of the sheets empty.

    Raises
    ------
    PrintingFailed
        If there is no PDF; printing the next one may work all the same.
    """
    wanted = {"title": title, "true_size": true_size, "sheets": [asdict(sheet) for sheet in sheets]}
    job = json.dumps(wanted).encode()
    answer, pdf = _presses.run(job, SECONDS_TO_START + SECONDS_PER_SHEET * len(sheets))
    for warning in answer["warnings"]:
        logger.warning("%s: %s", title, warning)
    if answer["error"]:
        logger.error("%s: %s", title, answer["error"])
        raise PrintingFailed("The sheet could not be drawn. Nothing else is lost; the reason stands in the log.")
    return pdf


def bind(parts: Sequence[tuple[bytes, str]], title: str) -> bytes:
    """Bind sheets that were printed one by one, each with the page of notes that is added where it ends on an odd page.

    Raises
    ------
    PrintingFailed
        If there is no PDF.
    """
    from pypdf import PdfReader, PdfWriter

    writer, notes = PdfWriter(), ""
    for pdf, its_notes in parts:
        if len(writer.pages) % 2 and notes:
            writer.append(io.BytesIO(print_pdf([Sheet(notes)], title)), import_outline=False)
        writer.append(PdfReader(io.BytesIO(pdf)), import_outline=False)
        notes = its_notes
    return _finished(writer, title, true_size=False)


class _Presses:
    """As many rendering processes as this machine has cores. A print takes one that is free, a warm one first."""

    def __init__(self, count: int) -> None:
        self.all = [_Press() for _ in range(count)]
        self.free: queue.LifoQueue[_Press] = queue.LifoQueue()
        for press in reversed(self.all):
            self.free.put(press)

    def run(self, job: bytes, seconds: float) -> tuple[dict[str, Any], bytes]:
        """Hand a job to a press that is free, and wait for its answer."""
        try:
            press = self.free.get(timeout=SECONDS_IN_LINE)
        except queue.Empty:
            raise PrintingFailed("Other prints are still running. Try again when they are done.") from None
        try:
            return press.run(job, seconds)
        finally:
            self.free.put(press)

    def stop(self) -> None:
        """End all of them."""
        for press in self.all:
            press.stop()


class _Press:
    """A rendering process as seen from outside: one print at a time."""

    def __init__(self) -> None:
        self.process: subprocess.Popen[bytes] | None = None
        self.prints = 0

    def run(self, job: bytes, seconds: float) -> tuple[dict[str, Any], bytes]:
        """Hand over a job and wait for its answer; a process that fails is thrown away."""
        process = self._running()
        late = threading.Event()

        def give_up() -> None:
            late.set()
            process.kill()

        timer = threading.Timer(seconds, give_up)
        timer.start()
        try:
            return _ask(process, job)
        except (OSError, EOFError, ValueError) as error:
            self.stop()
            if late.is_set():
                raise PrintingFailed(f"Printing was stopped after {seconds:.0f} seconds. Try again.") from error
            raise PrintingFailed("Printing broke off. Try again.") from error
        finally:
            timer.cancel()

    def _running(self) -> subprocess.Popen[bytes]:
        self.prints += 1
        if self.prints > PRINTS_PER_PROCESS or (self.process and self.process.poll() is not None):
            self.stop()
        if self.process is None:
            self.prints = 1
            self.process = subprocess.Popen(
                [sys.executable, "-m", __name__],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env={**os.environ, "PYTHONPATH": str(CHECKOUT)},
            )
        return self.process

    def stop(self) -> None:
        """End the process, if there is one."""
        process, self.process = self.process, None
        if process is not None:
            process.kill()
            process.communicate()  # reads what is left and closes the pipes


_presses = _Presses(PRESSES)
atexit.register(_presses.stop)


def _ask(process: subprocess.Popen[bytes], job: bytes) -> tuple[dict[str, Any], bytes]:
    _send(process.stdin, job)
    answer = json.loads(_receive(process.stdout))
    return answer, _receive(process.stdout)


def _send(stream: BinaryIO, message: bytes) -> None:
    stream.write(len(message).to_bytes(8, "big") + message)
    stream.flush()


def _receive(stream: BinaryIO) -> bytes:
    size = stream.read(8)
    message = stream.read(int.from_bytes(size, "big")) if len(size) == 8 else b""
    if len(size) < 8 or len(message) < int.from_bytes(size, "big"):
        raise EOFError
    return message


# From here on: what happens in the rendering process.


@functools.cache
def fetcher() -> Any:
    """Make the one that answers WeasyPrint's questions for files: with our fonts, and with nothing else."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OurFilesOnly(URLFetcher):
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
            if url.lower().startswith("data:"):
                return super().fetch(url, headers)
            files = {f"font:{weight}": font_file(weight) for weight in WEIGHTS}
            if url not in files:
                raise ValueError(f"A sheet may not ask for {url[:200]}")
            return URLFetcherResponse(url, files[url].read_bytes(), {"Content-Type": "font/ttf"})

    return OurFilesOnly(allowed_protocols=["data"], allow_redirects=False, fail_on_errors=True)


@functools.cache
def _type() -> tuple[Any, Any]:
    """Load the fonts and read the style sheet, once for all prints."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    css = STYLE_SHEET.read_text(encoding="utf-8")
    return fonts, CSS(string=css, font_config=fonts, url_fetcher=fetcher())


def render(sheets: Sequence[Sheet], title: str, true_size: bool = False) -> bytes:
    """Render sheets in this process, one after the other: a document laid out takes far more room than its PDF."""
    from pypdf import PdfWriter

    writer, notes = PdfWriter(), ""
    for sheet in sheets:
        if len(writer.pages) % 2 and notes:
            writer.append(io.BytesIO(_render_one(notes)), import_outline=False)
        writer.append(io.BytesIO(_render_one(sheet.html)), import_outline=False)
        notes = sheet.notes
    return _finished(writer, title, true_size=true_size)


def _finished(writer: Any, title: str, *, true_size: bool) -> bytes:
    writer.add_metadata({"/Title": title})
    if true_size:  # ISO 32000-1, table 150
        dialogue = writer.create_viewer_preferences()
        dialogue.print_scaling, dialogue.duplex = "/None", "/Simplex"
    with io.BytesIO() as pdf:
        writer.write(pdf)
        return pdf.getvalue()


def _render_one(html: str) -> bytes:
    from weasyprint import HTML

    fonts, style = _type()
    return HTML(string=html, url_fetcher=fetcher()).write_pdf(font_config=fonts, stylesheets=[style])


def _render_job(job: bytes, warnings: list[str]) -> tuple[dict[str, Any], bytes]:
    from weasyprint.urls import FatalURLFetchingError

    error, pdf = "", b""
    try:
        wanted = json.loads(job)
        pdf = render([Sheet(**sheet) for sheet in wanted["sheets"]], wanted["title"], wanted["true_size"])
    except (Exception, FatalURLFetchingError) as problem:  # the latter is a BaseException
        error = f"{type(problem).__name__}: {problem}"
    return {"error": error, "warnings": list(dict.fromkeys(warnings))}, pdf


class _Kept(logging.Handler):
    """Keeps what WeasyPrint complains of, to be passed on with the answer."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(record.getMessage())


def serve() -> None:
    """Answer one job after another until the server closes the pipe."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is meant for the server, which then closes the pipe
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints must not land among the answers
    kept = _Kept()
    complaints = logging.getLogger("weasyprint")
    complaints.handlers[:], complaints.propagate = [kept], False
    while True:
        try:
            job = _receive(sys.stdin.buffer)
        except EOFError:
            return
        kept.said.clear()
        answer, pdf = _render_job(job, kept.said)
        _send(answers, json.dumps(answer).encode())
        _send(answers, pdf)


if __name__ == "__main__":
    serve()
