"""Who may do what: every address, every role, reading and sending, against a table that is written down here."""

from __future__ import annotations

import io
import re
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from boards.models import Photograph
from shop.models import Role, User
from shop.outbox import mark_of
from shop.rights import RIGHTS, Right, every_address_has_a_right, names_of_all
from tests.factories import make_blank, make_build, make_user, press, tap
from tests.shop.test_pages import addresses

pytestmark = pytest.mark.django_db

OWNER, MAKER, LOOKER_ON, NOBODY = "owner", "maker", "looker-on", "nobody"

# Who gets past, reading and sending. Written down apart from the program: a slip of the pen there shows here.
# O owner, M maker, L looker-on, - nobody who is signed in; "all" also those who are not.
TABLE = """
sign-in                      all  all
first-run                    all  all
tablet-names                 all  -
tablet-pin                   all  all
health                       all  -
unsent                       OML  OML
sign-out                     OML  OML
admin-sign-in                OML  OML
admin-password               OML  OML
shop:me                      OML  -
shop:my-password             OML  OML
shop:my-pin                  OML  OML
shop:ink                     OML  OML
shop:outbox                  OML  -
shop:worker                  OML  -
shop:people                  O    -
shop:new-person              O    O
shop:person                  O    O
shop:reset-password          O    O
shop:close-account           O    O
shop:open-account            O    O
shop:tablets                 O    -
shop:enrol-tablet            O    O
shop:revoke-tablet           O    O
shop:backups                 O    -
shop:make-backup             O    O
shop:backup                  O    -
shop:compare-patterns        OML  -
shop:builds                  OML  -
shop:build                   OML  -
shop:new-build               OM   OM
shop:preview                 OML  OML
shop:edit-build              OML  OM
shop:note-build              OML  OM
shop:hold-build              OML  OM
shop:go-on-build             OML  OM
shop:deliver-build           OML  OM
shop:cancel-build            OML  OM
shop:reopen-build            OML  OM
shop:air                     OML  OM
shop:take-air-back           OML  OM
shop:send-air-file           OML  OM
shop:air-file                OML  OM
shop:take-air-file-back      OML  OM
shop:kit                     OML  -
shop:settings                OML  O
shop:hours                   OML  O
shop:add-days-off            OML  O
shop:drop-days-off           OML  O
shop:new-pattern             OM   OM
shop:pattern                 OML  OM
shop:new-wood                OM   OM
shop:wood                    OML  OM
shop:new-jig                 O    O
shop:jig                     OML  -
shop:edit-jig                OML  O
shop:stand                   OML  OM
shop:use-jig                 OML  OM
shop:test-jig                OML  OM
shop:new-former              O    O
shop:former                  OML  O
shop:former-preview          OML  OML
shop:remove-former           OML  O
shop:new-cutter              O    O
shop:cutter                  OML  O
shop:sharpen                 OML  OM
shop:new-block               O    O
shop:block                   OML  O
shop:remove-block            OML  O
shop:new-label-sheet         O    O
shop:label-sheet             OML  O
shop:remove-label-sheet      OML  O
boards:today                 OML  -
boards:find                  OML  -
boards:scan                  OML  -
boards:intake                OM   OM
boards:rack                  OML  -
boards:resting               OML  OM
boards:moisture              OML  OM
boards:take-reading-back     OML  OM
boards:matching              OML  -
boards:put-matched           OML  OM
boards:buying                OML  -
boards:buying-csv            OML  -
boards:labels                OML  -
boards:labels-pdf            OML  -
boards:label-frames          OML  -
boards:export                OML  -
boards:export-all            OML  -
boards:export-table          OML  -
boards:stock-hand-in         OM   OM
boards:stock-file            OM   OM
boards:stock-check           OM   OM
boards:stock-woods           OM   OM
boards:stock-left-out        OML  -
boards:calendar              OML  -
boards:change-calendar-address OML O
boards:close-calendar        OML  O
boards:calendar-feed         all  -
boards:help                  OML  -
boards:first-steps           OML  -
boards:how-blank             OML  -
boards:how-blank-figure      OML  -
boards:how-build             OML  -
boards:how-build-figure      OML  -
boards:benches               OML  -
boards:bench                 OML  -
boards:bench-run             OML  -
boards:stand                 OML  OM
boards:bench-news            OML  -
boards:plan                  OML  OM
boards:plan-move             OML  OM
boards:plan-pin              OML  OM
boards:bench-travellers      OML  OML
boards:batch                 OML  -
boards:batch-pdf             OML  -
boards:cancel-batch          OML  OML
boards:blank                 OML  -
boards:traveller             OML  -
boards:finish                OML  OM
boards:undo                  OML  OM
boards:put                   OML  OM
boards:take-off              OML  OM
boards:hold                  OML  OM
boards:release               OML  OM
boards:rework                OML  OM
boards:scrap                 OML  OM
boards:measure               OML  OM
boards:gauge                 OML  OM
boards:dates                 OML  -
boards:look-back             OML  -
boards:look-back-at          OML  -
boards:costs                 OML  -
boards:cost-boards           OML  -
boards:cost-stages           OML  -
boards:build-cost            OML  -
boards:pictures              OML  -
boards:add-pictures          OML  OM
boards:take-picture-away     OML  OM
boards:picture               OML  -
boards:papers                OML  OM
boards:take-paper-away       OML  OM
boards:paper-file            OML  -
boards:provenance            OML  -
boards:full-size             OML  -
boards:former-full-size      OML  -
"""
WHO_MAY = {name: (read, send) for name, read, send in (line.split() for line in TABLE.split("\n") if line)}


def stranger_is_let_in(name: str, answer: object) -> bool:
    return not (answer.status_code == 302 and answer["Location"].startswith("/sign-in/?"))


def let_in(answer: object) -> bool:
    """Whether the view answered, whatever it said: it alone says 405 with POST allowed, and 403 is for rights alone."""
    if answer.status_code == 405:
        return "POST" in answer["Allow"]
    return answer.status_code != 403


@pytest.fixture
def clients(owner: User, maker: User) -> dict[str, Client]:
    looker = make_user("looks", role=Role.LOOKER_ON)
    found = {NOBODY: Client()}
    for who, user in ((OWNER, owner), (MAKER, maker), (LOOKER_ON, looker)):
        found[who] = Client(raise_request_exception=False)
        found[who].force_login(user)
    return found


def test_the_table_here_names_every_address() -> None:
    assert {name for name in names_of_all() if name != "admin:"} == set(WHO_MAY)


@pytest.mark.parametrize(
    ("name", "address"), [(name, address) for _, name, address in addresses() if name != "sign-out"]
)
def test_every_address_for_every_role(clients: dict[str, Client], name: str, address: str) -> None:
    read, send = WHO_MAY[name]
    for who, letter in ((OWNER, "O"), (MAKER, "M"), (LOOKER_ON, "L")):
        client = clients[who]
        if not address.endswith((".pdf", ".zip")) or letter not in read:  # what prints has tests of its own
            answer = client.get(address)
            assert (answer.status_code == 403) == (read != "all" and letter not in read), (who, "reads")
        sent = client.post(address, tap(seen="0", seen_as="x"))
        assert let_in(sent) == (send == "all" or letter in send), (who, "sends", sent.status_code)
        if sent.status_code == 403:
            assert "This account may not do that" in sent.text
        later = client.post(address, tap(seen="0"), headers={"Outbox": "later", "Outbox-By": "somebody else"})
        assert later.status_code in (403, 413), "never under another person's name"
    for answer in (clients[NOBODY].get(address), clients[NOBODY].post(address, tap(seen="0"))):
        assert stranger_is_let_in(name, answer) == (read == "all"), "without an account"
    assert User.objects.count() == 3


def test_an_address_without_a_line_is_the_owners_and_is_told_of(
    clients: dict[str, Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert every_address_has_a_right(None) == []
    monkeypatch.delitem(RIGHTS, "boards:rack")
    monkeypatch.setitem(RIGHTS, "boards:gone", Right.OPEN)
    assert [message.id for message in every_address_has_a_right(None)] == ["shop.W002", "shop.W003"]
    assert [clients[who].get("/rack/").status_code for who in (OWNER, MAKER, LOOKER_ON)] == [200, 403, 403]


@pytest.mark.parametrize("address", ["/admin/", "/admin/shop/route/add/", "/admin/shop/user/"])
def test_the_admin_pages_are_the_owners(clients: dict[str, Client], address: str) -> None:
    for who in (MAKER, LOOKER_ON):
        assert clients[who].get(address).status_code == clients[who].post(address).status_code == 403
    assert clients[OWNER].get(address).status_code == (404 if "user" in address else 200), "people are not in them"
    assert clients[NOBODY].get(address, follow=True).redirect_chain[-1][0].startswith("/sign-in/?next=")
    guess = Client().post("/admin/login/", {"username": "owner", "password": "a-long-enough-one"})
    assert guess["Location"].startswith("/sign-in/") and "sessionid" not in guess.cookies


def test_files_of_a_blank_are_seen_by_lookers_on_and_by_no_stranger(clients: dict[str, Client]) -> None:
    """Photographs and papers that are there, sent by who may and refused to who may not."""
    blank, picture = make_blank(), io.BytesIO()
    Image.new("RGB", (80, 60), "tan").save(picture, "JPEG")
    address = f"/blanks/{blank.number}/photographs/add/"

    def upload() -> SimpleUploadedFile:
        return SimpleUploadedFile("strip.jpg", picture.getvalue(), "image/jpeg")

    for who, status in ((LOOKER_ON, 403), (NOBODY, 302), (MAKER, 302)):
        sent = tap(seen=blank.version, photographs=[upload()])
        assert clients[who].post(address, sent).status_code == status, who
        assert Photograph.objects.exists() == (who == MAKER)
    file = f"/photographs/{Photograph.objects.get().file}"
    assert [clients[who].get(file).status_code for who in (OWNER, MAKER, LOOKER_ON, NOBODY)] == [200, 200, 200, 302]


def test_what_is_not_theirs_has_no_button_and_says_so(clients: dict[str, Client]) -> None:
    blank = make_blank(make_build(), done=2)
    for page in (f"/blanks/{blank.number}/", "/benches/radiusing/", "/kit/shop/"):
        theirs, not_theirs = clients[OWNER].get(page).text, clients[LOOKER_ON].get(page).text
        forms = re.findall(r'<form[^>]*method="post".*?</form>', not_theirs, re.DOTALL)
        marked = [form for form in forms if 'name="tap"' in form]
        assert marked and all('class="not-theirs-to-press"' in form for form in marked), page
        assert "You look on here" in not_theirs and "You look on here" not in theirs
        assert "not-theirs-to-press" not in theirs
    assert "The shop's owner changes what stands on this page" in unescape(clients[MAKER].get("/kit/shop/").text)
    assert "/intake/" not in clients[LOOKER_ON].get("/rack/").text
    assert "/intake/" in clients[MAKER].get("/rack/").text
    headers = {"Outbox": "now", "Outbox-By": mark_of(User.objects.get(username="looks"))}
    refused = clients[LOOKER_ON].post(f"/blanks/{blank.number}/hold/", press(blank), headers=headers)
    assert (refused.status_code, refused["Tap-Outcome"], refused["Content-Type"]) == (403, "refused", "text/plain")
    assert "this account looks on" in refused.text


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({f"box{number}": "1" for number in range(1200)}, "More boxes were sent than any page here has."),
        ({"remarks": "x" * 3_000_000}, "More was typed than any page here takes."),
        ({"photographs": [io.BytesIO(b"x") for _ in range(120)]}, "Too many files were sent at once."),
    ],
    ids=["boxes", "letters", "files"],
)
def test_more_than_is_taken_is_refused_in_words(
    clients: dict[str, Client], sent: dict[str, object], words: str
) -> None:
    blank = make_blank()
    answer = clients[MAKER].post(f"/blanks/{blank.number}/photographs/add/", sent | {"seen": "1"})
    assert answer.status_code == 400 and words in answer.text and "Nothing was changed" in answer.text
