"""The addresses of all pages."""

from django.contrib import admin
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

urlpatterns = [
    path("sign-in/", LoginView.as_view(template_name="shop/sign_in.html"), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("admin/", admin.site.urls),
    path("", include("boards.urls")),  # by name: shop does not import boards
]
