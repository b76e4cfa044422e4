"""Settings. Whatever differs from shop to shop is an environment variable; DEVELOPERS.md lists them all."""

from pathlib import Path

from shop import datafolder, environment

CHECKOUT = Path(__file__).resolve().parent.parent

DEBUG = environment.boolean("CAMBERBOOK_DEBUG", False)
DEMO = environment.boolean("CAMBERBOOK_DEMO", False)  # `serve --demo` sets it
DEMO_ACCOUNT = {"username": "bench", "password": "try-the-bench"}
HTTPS = environment.boolean("CAMBERBOOK_HTTPS", False)
PROXY = environment.text("CAMBERBOOK_PROXY", "127.0.0.1")

# The demo lives in a folder of its own, so that it never lands in a shop's data.
DATA = environment.path("CAMBERBOOK_DATA", datafolder.default_folder()) / ("demo" if DEMO else "")
datafolder.make_folder(DATA)

# Best on another disk. The demo keeps its backups apart as well.
BACKUPS = environment.path("CAMBERBOOK_BACKUPS", DATA / "backups")
if DEMO and BACKUPS.parent != DATA:
    BACKUPS /= "demo"
BACKUPS_KEPT = (
    environment.integer("CAMBERBOOK_BACKUPS_DAYS", 7, least=1),
    environment.integer("CAMBERBOOK_BACKUPS_WEEKS", 5),
    environment.integer("CAMBERBOOK_BACKUPS_MONTHS", 12),
)

SECRET_KEY = environment.secret("CAMBERBOOK_SECRET_KEY", least=50) or datafolder.secret_key(DATA)

# `serve` adds the names of this machine when it is told to listen on them.
ALLOWED_HOSTS = [*environment.hosts("CAMBERBOOK_HOSTS"), "localhost", "127.0.0.1", "[::1]"]
CSRF_TRUSTED_ORIGINS = environment.origins("CAMBERBOOK_ORIGINS")

INSTALLED_APPS = [
    "shop",
    "boards",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
]

MIDDLEWARE = [
    "shop.logs.note_pages",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "shop.middleware.content_security_policy",
    "shop.middleware.not_too_large",
    "shop.middleware.shop_at_hand",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "shop.tablets.give_way",
    "django_htmx.middleware.HtmxMiddleware",
    "shop.outbox.acknowledge",
    "shop.middleware.sign_in_again",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "shop.rights.Rights",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "shop.middleware.press_only",
]

# A dozen photographs from a tablet. Django keeps what is larger than a few megabytes on disk while it comes in, and a
# form says for itself how large one file may be.
LARGEST_REQUEST = 128 * 2**20

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
                "shop.middleware.shop_in_templates",
                "shop.rights.may_in_templates",
            ],
        },
    },
]

FORM_RENDERER = "django.forms.renderers.TemplatesSetting"  # so that templates/django/forms is used

# The demo always has its own file, whatever DATABASE_URL says.
DATABASES = {"default": environment.database("" if DEMO else "DATABASE_URL", DATA / "camberbook.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEST_RUNNER = "shop.testing.PytestRunner"

AUTH_USER_MODEL = "shop.User"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign-in"
CSRF_FAILURE_VIEW = "shop.errors.csrf_failure"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30  # with a password; a PIN lets in for minutes (shop/tablets.py)

# One language, so that dates are written the same way for everybody.
LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
FORMAT_MODULE_PATH = "shop.formats"
TIME_ZONE = environment.time_zone("CAMBERBOOK_TIME_ZONE")

STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "shop.fonts.FontFinder",
]

# A shop that serves its own network has no certificate, and a cookie marked secure would not come back over plain http.
# With CAMBERBOOK_HTTPS a proxy in front ends the https, and everything that Django can ask of it is asked.
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
SECURE_REDIRECT_EXEMPT = [r"^health/$"]  # asked by programs on this machine, which know no certificate
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if HTTPS else 0
SILENCED_SYSTEM_CHECKS = [
    "security.W005",  # HSTS for subdomains, and
    "security.W021",  # the browsers' list: both speak for names that may not be the shop's to speak for
]
if not HTTPS:
    SILENCED_SYSTEM_CHECKS += [
        "security.W004",  # HSTS,
        "security.W008",  # the redirect to https,
        "security.W012",  # and secure cookies, of the session
        "security.W016",  # and of the forms: there is no https to point to
    ]

# Without this an error on a page would be written nowhere: by default it is mailed to admins, of whom there are none.
_LOG = environment.choice("CAMBERBOOK_LOG", ("line", "json"))
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "shop.logs.Lines"}, "json": {"()": "shop.logs.JsonLines"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": _LOG}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "WARNING"},
        "shop.requests": {"level": "INFO" if environment.boolean("CAMBERBOOK_LOG_PAGES", False) else "WARNING"},
        # A page that does not exist or a form that is out of date is no fault of the program.
        "django.request": {"level": "ERROR"},
        "django.security.csrf": {"level": "ERROR"},
        # A page asks for its style sheets all at once; that some of them wait a moment is nothing to report.
        "waitress.queue": {"level": "ERROR"},
    },
}
