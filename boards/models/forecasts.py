"""What was forecast for builds, kept so that it can be held against what came true."""

from __future__ import annotations

from django.db import models

from shop.models import Build


class KeptForecast(models.Model):
    """The dates that were forecast for one build on one day, by the share of runs that came out by then."""

    build = models.ForeignKey(Build, on_delete=models.CASCADE, related_name="forecasts")
    made_on = models.DateField()
    dates = models.JSONField(help_text="Percent of the runs: the day by which they came out.")

    class Meta:
        ordering = ["made_on"]
        constraints = [models.UniqueConstraint(fields=["build", "made_on"], name="one_forecast_a_day")]

    def __str__(self) -> str:
        return f"{self.build.number}, {self.made_on}"
