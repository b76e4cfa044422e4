"""The rendering process: what it may read, and what happens when it fails."""

import os
import queue
import re
import signal

import pytest

from boards import printing
from boards.printing import CHECKOUT, PrintingFailed, Sheet, print_pdf
from tests.print.paper import reader, text_of


def sheet(body: str = "<p>Board</p>") -> Sheet:
    return Sheet(f'<html lang="en"><title>t</title><body class="a4">{body}</body></html>')


def test_it_works():
    pdf = print_pdf([sheet("<p>Ebony</p>"), sheet("<p>Pear</p>")], "Two sheets")
    assert len(reader(pdf).pages) == 2
    assert reader(pdf).metadata.title == "Two sheets"
    assert text_of(pdf) == "Ebony Page 1 of 1 Pear Page 1 of 1", "pages are counted within a sheet"


def test_it_is_the_only_module_that_imports_the_renderer():
    importing = re.compile(r"^\s*(from|import) weasyprint\b", re.MULTILINE)
    files = [file for package in ("boards", "shop", "geometry") for file in (CHECKOUT / package).rglob("*.py")]
    assert [file.name for file in files if importing.search(file.read_text(encoding="utf-8"))] == ["printing.py"]


@pytest.mark.parametrize(
    "address",
    ["file:///etc/passwd", "FILE:///etc/passwd", "http://127.0.0.1:9/x", "https://example.org/x", "ftp://127.0.0.1/x",
     "font:999", "font:400/../../x", "relative.png", "//example.org/x"],
)  # fmt: skip
def test_only_our_files_are_read(address):
    with pytest.raises(ValueError):
        printing.fetcher().fetch(address)


def test_our_fonts_and_data_are_read():
    assert printing.fetcher().fetch("font:400").read(4) == b"\x00\x01\x00\x00"  # sfnt version, OpenType 1.9, otff
    assert printing.fetcher().fetch("data:text/plain,abc").read() == b"abc"


@pytest.mark.parametrize(
    "body",
    ['<img src="file:///etc/passwd">', '<img src="http://127.0.0.1:9/x">', '<link rel="attachment" href="file:///x">',
     '<p style="background: url(file:///etc/passwd)">x</p>', '<link rel="stylesheet" href="http://127.0.0.1:9/x.css">'],
)  # fmt: skip
def test_a_sheet_that_asks_for_more_is_not_printed(body, caplog):
    with pytest.raises(PrintingFailed, match="could not be drawn"):
        print_pdf([sheet(body)], "Too curious")
    assert "FatalURLFetchingError" in caplog.text
    caplog.clear()
    assert text_of(print_pdf([sheet()], "Next")).startswith("Board")


def test_what_the_renderer_complains_of_is_logged(caplog):
    print_pdf([sheet('<p style="no-such-thing: 3">x</p>')], "Misspelt")
    assert "no-such-thing" in caplog.text
    caplog.clear()


def test_notes_are_added_where_the_next_board_would_share_the_paper():
    long = "".join("<p>line</p>" for _ in range(90))
    one, two = Sheet(sheet().html, sheet("<p>Notes</p>").html), Sheet(sheet(long).html, sheet("<p>Notes</p>").html)
    pages = [page.extract_text() for page in reader(print_pdf([one, two, one], "Three boards")).pages]
    assert [text.split()[0] for text in pages] == ["Board", "Notes", "line", "line", "Board"]


def test_the_process_is_kept():
    print_pdf([sheet()], "First")
    process = printing._presses.all[0].process
    print_pdf([sheet()], "Second")
    assert printing._presses.all[0].process is process


def test_after_many_prints_it_starts_afresh(monkeypatch):
    print_pdf([sheet()], "First")
    process = printing._presses.all[0].process
    monkeypatch.setattr(printing, "PRINTS_PER_PROCESS", 1)
    print_pdf([sheet()], "Second")
    assert printing._presses.all[0].process is not process
    assert process.poll() is not None


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="no such signal on this system")
def test_killed_midway_it_says_so_and_the_next_print_works(monkeypatch):
    print_pdf([sheet()], "First")
    process, receive = printing._presses.all[0].process, printing._receive

    def receive_after_death(stream):  # the job is handed over, the answer is waited for
        process.kill()
        return receive(stream)

    os.kill(process.pid, signal.SIGSTOP)  # or it might have answered already
    monkeypatch.setattr(printing, "_receive", receive_after_death)
    with pytest.raises(PrintingFailed, match="Printing broke off"):
        print_pdf([sheet()], "Cut off")
    monkeypatch.undo()
    assert text_of(print_pdf([sheet()], "Next")).startswith("Board")


def test_dead_between_two_prints_it_is_started_again():
    print_pdf([sheet()], "First")
    process = printing._presses.all[0].process
    process.kill()
    process.wait()
    assert text_of(print_pdf([sheet()], "Next")).startswith("Board")


def test_what_takes_too_long_is_stopped(monkeypatch):
    print_pdf([sheet()], "First")
    monkeypatch.setattr(printing, "SECONDS_TO_START", 0)
    monkeypatch.setattr(printing, "SECONDS_PER_SHEET", 0.05)
    endless = "<table>" + "<tr><td>word</td></tr>" * 20_000 + "</table>"
    with pytest.raises(PrintingFailed, match="stopped after"):
        print_pdf([sheet(endless)], "Endless")
    monkeypatch.undo()
    assert text_of(print_pdf([sheet()], "Next")).startswith("Board")


def test_who_waits_too_long_in_line_is_told(monkeypatch):
    monkeypatch.setattr(printing, "SECONDS_IN_LINE", 0.01)
    monkeypatch.setattr(printing._presses, "free", queue.LifoQueue())  # all of them are at work
    with pytest.raises(PrintingFailed, match="Other prints are still running"):
        print_pdf([sheet()], "Waiting")
