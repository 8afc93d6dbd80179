"""The record book: everything a practitioner enters, kept for good in SQLite, or in PostgreSQL for a firm."""

from slackwater.book.handle import Book as Book
from slackwater.book.opening import open_book as open_book
