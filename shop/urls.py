"""The addresses of all pages."""

from django.contrib import admin
from django.contrib.auth.views import LogoutView
from django.urls import include, path
from django.views.generic import RedirectView

from shop import (
    formers,
    health,
    hours,
    ink,
    jigs,
    jigtests,
    kit,
    newjig,
    outbox,
    patterns,
    people,
    tablets,
    tools,
    unsent,
    woods,
    worker,
)
from shop.models import Former, SandingBlock

pages = [
    path("builds/", include("shop.build_urls")),
    path("ink/", ink.choose_ink, name="ink"),
    path("outbox/", outbox.who, name="outbox"),
    path("sw.js", worker.worker, name="worker"),
    path("air/", include("shop.air_urls")),
    path("kit/", kit.kit, name="kit"),
    path("kit/shop/", kit.shop_settings, name="settings"),
    path("kit/hours/", hours.hours, name="hours"),
    path("kit/hours/days-off/", hours.add_days_off, name="add-days-off"),
    path("kit/hours/days-off/<int:pk>/strike-out/", hours.drop_days_off, name="drop-days-off"),
    path("kit/patterns/new/", patterns.pattern, name="new-pattern"),
    path("kit/patterns/compare/", patterns.compare, name="compare-patterns"),
    path("kit/patterns/<int:pk>/", patterns.pattern, name="pattern"),
    path("kit/jigs/new/", newjig.new_jig, name="new-jig"),
    path("kit/jigs/<int:pk>/", jigs.jig_page, name="jig"),
    path("kit/jigs/<int:pk>/change/", jigs.edit_jig, name="edit-jig"),
    path("kit/jigs/<int:pk>/stand/", jigs.stand, name="stand"),
    path("kit/jigs/<int:pk>/use/", jigs.use_jig, name="use-jig"),
    path("kit/jigs/<int:pk>/test/", jigtests.jig_test, name="test-jig"),
    path("kit/jigs/<int:jig>/formers/new/", formers.former, name="new-former"),
    path("kit/jigs/<int:jig>/formers/preview/", formers.preview, name="former-preview"),
    path("kit/jigs/<int:jig>/formers/<int:pk>/", formers.former, name="former"),
    path("kit/formers/<int:pk>/remove/", jigs.remove, {"model": Former}, name="remove-former"),
    path("kit/woods/new/", woods.wood, name="new-wood"),
    path("kit/woods/<int:pk>/", woods.wood, name="wood"),
    path("kit/cutters/new/", tools.cutter, name="new-cutter"),
    path("kit/cutters/<int:pk>/", tools.cutter, name="cutter"),
    path("kit/cutters/<int:pk>/sharp/", tools.sharpen, name="sharpen"),
    path("kit/blocks/new/", tools.block, name="new-block"),
    path("kit/blocks/<int:pk>/", tools.block, name="block"),
    path("kit/blocks/<int:pk>/remove/", jigs.remove, {"model": SandingBlock}, name="remove-block"),
    path("kit/labels/", include("shop.label_urls")),
    path("people/", include("shop.people_urls")),
    path("kit/backups/", include("shop.backup.urls")),
]

urlpatterns = [
    path("sign-in/", people.SignIn.as_view(), name="sign-in"),
    path("sign-in/tablet/", tablets.names, name="tablet-names"),
    path("sign-in/tablet/<int:pk>/", tablets.pin, name="tablet-pin"),
    path("not-sent/", unsent.typed_before, name="unsent"),
    path("first-run/", people.first_run, name="first-run"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("health/", health.health, name="health"),
    # The admin pages' own sign-in would let anybody guess passwords uncounted.
    path("admin/login/", RedirectView.as_view(pattern_name="sign-in", query_string=True), name="admin-sign-in"),
    path("admin/password_change/", RedirectView.as_view(pattern_name="shop:me"), name="admin-password"),
    path("admin/", admin.site.urls),
    path("", include((pages, "shop"))),
    path("", include("boards.urls")),  # by name: shop does not import boards
]

handler400 = "shop.errors.bad_request"
handler403 = "shop.errors.forbidden"
handler404 = "shop.errors.not_found"
handler500 = "shop.errors.server_error"
