"""What is written out comes back as it went, whatever people have written."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boards.models import Blank, Cut, LogEntry, StockFile, StockRow
from boards.stock.rows import NEW
from boards.stock.taking import first_reading, found_in, take_in
from boards.tables.cells import Marks
from boards.tables.files import Way, write_csv
from boards.tables.registry import table_named
from shop.models import Species, User
from tests.factories import make_blanks, make_hand, make_species, make_user

pytestmark = pytest.mark.django_db


def stock_of() -> list[tuple[Any, ...]]:
    names = ("number", "species__name", "cut", "length", "width", "thickness", "moisture", "received_on")
    return list(Blank.objects.order_by("number").values_list(*names, "supplier", "lot", "cost", "place", "remarks"))


def emptied() -> None:
    StockRow.objects.all().delete()
    StockFile.objects.all().delete()
    LogEntry.objects.all()._raw_delete("default")
    Blank.objects.all().delete()


def there_and_back(way: Way, user: User) -> None:
    """Write all blanks out, empty the shop, and read them in again."""
    before = stock_of()
    content = b"".join(write_csv(table_named("blanks"), way))
    emptied()
    Species.objects.all().delete()
    woods = {row[1]: NEW for row in before}
    file = StockFile.objects.create(
        name="blanks.csv", by=user, at=timezone.now(), content=content, woods=woods,
        reading=first_reading(content, "mm").as_json(),
    )  # fmt: skip
    result = found_in(file, timezone.localdate())
    assert [row.wrong for row in result.wrong] == []
    take_in(file, result, good_only=False, hand=make_hand(user), today=timezone.localdate())
    assert stock_of() == before


@pytest.mark.parametrize("marks", [Marks(), Marks(";", ","), Marks(bom=False)])
def test_an_export_comes_back_as_it_went(marks: Marks, maker: User) -> None:
    wood = make_species("Ebony, African", botanical="Diospyros crassiflora")
    make_blanks(
        3, length=Decimal("530.225"), thickness=Decimal("8.334375"), moisture=Decimal("7.5"), cost=Decimal("12.50")
    )
    make_blanks(2, species=wood, lot="-12", supplier="=1+1", place="'@wall", remarks='one;two,\r\n"three"\t|')
    there_and_back(Way(marks), maker)


words = st.text(
    st.one_of(
        st.sampled_from("=+-@'\";,|\t\r\n ＝é🎸\u200b"),
        st.characters(exclude_categories=["Cs"], exclude_characters="\x00"),
    ),
    max_size=30,
).map(str.strip)
lengths = st.integers(1, 99_999_000_000).map(lambda millionths: Decimal(millionths) / 10**6)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(words.filter(bool), words, words, words, words, lengths, st.sampled_from(Cut.values)),
        min_size=1, max_size=4,
    ),
    st.sampled_from([Marks(), Marks(";", ","), Marks(bom=False)]),
)  # fmt: skip
def test_whatever_was_written_comes_back(rows: list[tuple[Any, ...]], marks: Marks) -> None:
    with transaction.atomic():
        user = User.objects.filter(username="maker").first() or make_user()
        for wood, supplier, lot, place, remarks, length, cut in rows:
            make_blanks(
                1, hand=make_hand(user), species=make_species(wood), supplier=supplier, lot=lot, place=place,
                remarks=remarks, length=length, cut=cut,
            )  # fmt: skip
        there_and_back(Way(marks), user)
        transaction.set_rollback(True)
