"""The settings under test: data in a folder of its own that goes away, and nothing slow that no test is about.

CAMBERBOOK_TESTS_DATABASE=postgres://… has the tests run on PostgreSQL, by a user who may make databases.
"""

import atexit
import os
import shutil
import tempfile

_FOLDER = os.environ.get("CAMBERBOOK_TESTS_DATA", "")
if not _FOLDER:  # processes that the tests start share it
    os.environ["CAMBERBOOK_TESTS_DATA"] = _FOLDER = tempfile.mkdtemp(prefix="camberbook-tests-")
    atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)

# Whatever the person who runs the tests has set for their shop is not for the tests.
for _name in [name for name in os.environ if name.startswith(("CAMBERBOOK_", "DATABASE_URL"))]:
    if not _name.startswith("CAMBERBOOK_TESTS_"):
        del os.environ[_name]
os.environ["DATABASE_URL"] = os.environ.get("CAMBERBOOK_TESTS_DATABASE", "")
os.environ["CAMBERBOOK_DATA"] = _FOLDER
os.environ["CAMBERBOOK_TIME_ZONE"] = "Europe/Lisbon"

from shop.settings import *  # noqa: E402, F403
from shop.settings import DATA, DATABASES, STORAGES  # noqa: E402

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, because a database in memory cannot show how locks work; unsynchronised, as no plug is pulled here.
    DATABASES["default"]["TEST"] = {"NAME": DATA / "test.sqlite3"}
    DATABASES["default"]["OPTIONS"]["init_command"] += "PRAGMA synchronous=OFF;"
(DATA / "static").mkdir(exist_ok=True)  # whitenoise warns where there is none
