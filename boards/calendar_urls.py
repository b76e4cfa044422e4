"""The addresses of the calendar."""

from django.urls import path

from boards import calendar_page

urlpatterns = [
    path("kit/calendar/", calendar_page.calendar, name="calendar"),
    path("kit/calendar/address/", calendar_page.change_address, name="change-calendar-address"),
    path("kit/calendar/close/", calendar_page.close, name="close-calendar"),
    path("calendar/<slug:secret>.ics", calendar_page.calendar_feed, name="calendar-feed"),
]
