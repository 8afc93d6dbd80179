"""The prices of the record book that enter a plan made in the office: those that hold on the day on which it is asked for."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache

from slackwater.book import Book, prices
from slackwater.book.prices import Price
from slackwater.job.catalog import ToldPrice

DECIMALS: Mapping[str, int] = {
    "JPY": 0,
    "KRW": 0,
    "ISK": 0,
    "CLP": 0,
    "VND": 0,
    "KWD": 3,
    "BHD": 3,
    "TND": 3,
    "OMR": 3,
    "JOD": 3,
}
"""Digits behind the point of currencies that do not have two (ISO 4217, from memory)."""


def in_whole(price: Price) -> Decimal:
    """A price in its currency, not in the smallest unit of it."""
    return Decimal(price.amount_minor).scaleb(-DECIMALS.get(price.currency, 2))


def told_prices(book: Book, on: date) -> tuple[ToldPrice, ...]:
    """The price of each item that holds on a day, by item."""
    return _told(book, on, prices.stamp(book, on))


@lru_cache(maxsize=8)
def _told(book: Book, on: date, _stamp: tuple[int, str]) -> tuple[ToldPrice, ...]:
    """Asked for by every page that shows a plan or its dates."""
    return tuple(
        ToldPrice(
            item=item,
            amount=in_whole(price),
            currency=price.currency,
            unit=price.unit,
            supplier=price.supplier,
            valid_from=price.valid_from,
        )
        for item, price in sorted(prices.on_day(book, on).items())
    )


def prices_mark(book: Book, on: date) -> str:
    """SHA-256 of these prices; empty where there are none."""
    return _mark(told_prices(book, on))


@lru_cache(maxsize=8)
def _mark(told: tuple[ToldPrice, ...]) -> str:
    if not told:
        return ""
    return hashlib.sha256(json.dumps([row.model_dump(mode="json") for row in told]).encode()).hexdigest()
