"""The addresses of help, and of how figures were worked out."""

from django.urls import path

from boards import help as helping
from boards import how

urlpatterns = [
    path("help/", helping.words, name="help"),
    path("help/first-steps/", helping.first_steps, name="first-steps"),
    path("how/blanks/<slug:number>/", how.blank_figures, name="how-blank"),
    path("how/blanks/<slug:number>/<slug:figure>/", how.blank_figure, name="how-blank-figure"),
    path("how/builds/<slug:build>/", how.build_figures, name="how-build"),
    path("how/builds/<slug:build>/<slug:figure>/", how.build_figure, name="how-build-figure"),
]
