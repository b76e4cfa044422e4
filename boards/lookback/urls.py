"""The addresses of what boards cost, and of looking back."""

from django.urls import path

from boards import costs_page
from boards.lookback import pages

urlpatterns = [
    path("back/", pages.look_back, name="look-back"),
    path("back/<slug:stage>/", pages.look_back_at, name="look-back-at"),
    path("costs/", costs_page.costs, name="costs"),
    path("costs/boards.csv", costs_page.boards_table, name="cost-boards"),
    path("costs/stages.csv", costs_page.stages_table, name="cost-stages"),
    path("builds/<slug:build>/cost/", costs_page.build_cost, name="build-cost"),
]
