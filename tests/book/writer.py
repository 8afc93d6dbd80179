"""A process that writes to a book and says each time, when it is certain, what it wrote; it is killed in the middle."""

from __future__ import annotations

import sys
from pathlib import Path

from slackwater.book import events, jobs, open_book, photos
from slackwater.book.handle import Book
from tests.book.pictures import jpeg
from tests.book.places import NOON, event

WRITES = 200
TOGETHER = 5
"""Events in a batch."""


def write(book: Book, begun: str, first: int) -> None:
    """The writes from `first` on; `begun` tells runs apart."""
    job = ""
    for n in range(first, WRITES):
        mark = f"{begun}-{n}"
        if n % 4 == 0 or not job:
            job = jobs.create(book, text=f'name = "{mark}"', at=NOON, by="me").id
            said = f"job {job} {mark}"
        elif n % 4 == 1:
            parent = jobs.get(book, job).newest_n
            saved = jobs.save_version(book, job, f'name = "{mark}"\n# second', parent=parent, at=NOON, by="me")
            said = f"version {job} {saved.n} {saved.sha256}"
        elif n % 4 == 2:
            batch = [event(device=begun, seq=n * TOGETHER + k, mark=mark) for k in range(TOGETHER)]
            events.append(book, job, batch)
            said = f"events {job} {mark}"
        else:
            photo = photos.add(book, jpeg() + mark.encode(), at=NOON, by="me", job_id=job)
            said = f"photo {photo.id} {photo.sha256}"
        print(n, said, flush=True)


if __name__ == "__main__":
    where, folder, begun, first = sys.argv[1:]
    with open_book(where if "://" in where else Path(where), folder=Path(folder)) as opened:
        write(opened, begun, int(first))
