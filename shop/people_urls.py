"""The addresses of people, of one's own account and of tablets, below people/."""

from django.urls import path

from shop import accounts, ownaccount

urlpatterns = [
    path("", accounts.people, name="people"),
    path("new/", accounts.new_person, name="new-person"),
    path("<int:pk>/", accounts.person, name="person"),
    path("<int:pk>/password/", accounts.reset_password, name="reset-password"),
    path("<int:pk>/close/", accounts.close_account, name="close-account"),
    path("<int:pk>/open/", accounts.open_account, name="open-account"),
    path("me/", ownaccount.me, name="me"),
    path("me/password/", ownaccount.my_password, name="my-password"),
    path("me/pin/", ownaccount.my_pin, name="my-pin"),
    path("tablets/", accounts.tablets, name="tablets"),
    path("tablets/enrol/", accounts.enrol_tablet, name="enrol-tablet"),
    path("tablets/<int:pk>/revoke/", accounts.revoke_tablet, name="revoke-tablet"),
]
