"""The addresses of all pages."""

from django.contrib import admin
from django.contrib.auth.views import LogoutView
from django.urls import include, path

from shop import builds, kit, people

pages = [
    path("builds/", builds.builds, name="builds"),
    path("builds/new/", builds.new_build, name="new-build"),
    path("builds/preview/", builds.preview, name="preview"),
    path("builds/<slug:number>/", builds.build_page, name="build"),
    path("builds/<slug:number>/change/", builds.edit_build, name="edit-build"),
    path("builds/<slug:number>/close/", builds.close_build, name="close-build"),
    path("kit/", kit.kit, name="kit"),
    path("kit/shop/", kit.shop_settings, name="settings"),
    path("kit/patterns/new/", kit.pattern, name="new-pattern"),
    path("kit/patterns/<int:pk>/", kit.pattern, name="pattern"),
]

urlpatterns = [
    path("sign-in/", people.SignIn.as_view(), name="sign-in"),
    path("first-run/", people.first_run, name="first-run"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("admin/", admin.site.urls),
    path("", include((pages, "shop"))),
    path("", include("boards.urls")),  # by name: shop does not import boards
]

handler400 = "shop.errors.bad_request"
handler403 = "shop.errors.forbidden"
handler404 = "shop.errors.not_found"
handler500 = "shop.errors.server_error"
