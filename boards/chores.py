"""What is done once a day by itself with what passes through the shop."""

from __future__ import annotations

from datetime import datetime

from shop.daily import daily


def register() -> None:
    """Enter the jobs."""
    daily("forecasts", "keep today's forecast", _keep_forecasts)
    daily("stock files", "drop files of stock that nobody took in", _forget_stock_files)
    daily("half-written files", "sweep up files that were never written to their end", _sweep_files)


def _keep_forecasts(now: datetime) -> None:
    from boards.forecast.kept import keep_forecasts
    from shop.models import Shop

    keep_forecasts(Shop.current(), now=now)


def _forget_stock_files(now: datetime) -> None:
    from boards.models import StockFile

    StockFile.forget_old(now)


def _sweep_files(now: datetime) -> None:
    from boards.files import sweep

    sweep(now)
