"""Who may do what: every address, every role, reading and sending, against a table that is written down here."""

from __future__ import annotations

import pytest
from django.test import Client

from shop.models import Role, User
from shop.rights import names_of_all
from tests.factories import make_user, tap
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
