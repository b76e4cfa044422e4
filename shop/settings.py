"""Settings. Whatever differs from shop to shop is an environment variable; DEVELOPERS.md lists them all."""

from pathlib import Path

import tzlocal
from django.core.exceptions import ImproperlyConfigured

from shop import datafolder, environment

CHECKOUT = Path(__file__).resolve().parent.parent

DEBUG = environment.boolean("CAMBERBOOK_DEBUG", False)
DEMO = environment.boolean("CAMBERBOOK_DEMO", False)  # `serve --demo` sets it
HTTPS = environment.boolean("CAMBERBOOK_HTTPS", False)

# The demo lives in a folder of its own, so that it never lands in a shop's data.
DATA = environment.path("CAMBERBOOK_DATA", datafolder.default_folder()) / ("demo" if DEMO else "")
datafolder.make_folder(DATA)

SECRET_KEY = environment.secret("CAMBERBOOK_SECRET_KEY") or datafolder.secret_key(DATA)

# `serve` adds the names of this machine when it is told to listen on them.
ALLOWED_HOSTS = environment.words("CAMBERBOOK_HOSTS") + ["localhost", "127.0.0.1", "[::1]"]
CSRF_TRUSTED_ORIGINS = environment.words("CAMBERBOOK_ORIGINS")
for _origin in CSRF_TRUSTED_ORIGINS:
    if "://" not in _origin:
        raise ImproperlyConfigured(
            f"CAMBERBOOK_ORIGINS holds {_origin!r}. Write the whole of it, such as https://{_origin}."
        )

INSTALLED_APPS = [
    "shop",
    "boards",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "shop.middleware.content_security_policy",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "shop.urls"
WSGI_APPLICATION = "shop.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [CHECKOUT / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

# The demo always has its own file, whatever DATABASE_URL says.
DATABASES = {"default": environment.database("" if DEMO else "DATABASE_URL", DATA / "camberbook.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "shop.User"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign-in"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 60  # the tablet at the bench stays signed in

# One language, so that dates are written the same way for everybody.
LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
TIME_ZONE = environment.text("CAMBERBOOK_TIME_ZONE") or tzlocal.get_localzone_name() or "UTC"
DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y, H:i"

STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
