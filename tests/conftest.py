"""A fixed cast: the owner, who may change the kit, and a maker, who works at the benches."""

import hypothesis
import pytest
from django.db import connection
from django.test import Client

from shop.models import Shop, User
from tests.factories import make_user

# No deadline: the machine that runs the tests may be slow. No database of examples: the same run everywhere.
hypothesis.settings.register_profile("camberbook", deadline=None, database=None, derandomize=True)
hypothesis.settings.load_profile("camberbook")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On PostgreSQL leave out what has nothing to say there; it is counted as deselected, not as skipped."""
    if connection.vendor == "sqlite":
        return
    out = [item for item in items if item.get_closest_marker("sqlite")]
    config.hook.pytest_deselected(items=out)
    items[:] = [item for item in items if item not in out]


@pytest.fixture
def maker(db: None) -> User:
    return make_user("maker", first_name="Ida", last_name="Bracken")


@pytest.fixture
def owner(db: None) -> User:
    return make_user("owner", first_name="Nell", last_name="Harrow", role="owner")


@pytest.fixture
def shop(db: None) -> Shop:
    return Shop.current()


@pytest.fixture
def bench(maker: User) -> Client:
    """A tablet at which the maker is signed in."""
    client = Client()
    client.force_login(maker)
    return client


@pytest.fixture
def other_bench(owner: User) -> Client:
    """A second tablet, at which the owner is signed in."""
    client = Client()
    client.force_login(owner)
    return client


@pytest.fixture
def owners_bench(maker: User, owner: User) -> Client:
    """A third tablet, at which the owner is signed in as well: tests about the kit take it for `bench`."""
    client = Client()
    client.force_login(owner)
    return client
