"""Photos: the original as it came, a thumbnail, and a file that tells no place where that is asked."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import ExifTags, Image

from slackwater.book import conditions, documents, photos
from slackwater.book.pictures import LARGEST_BYTES, look_at
from slackwater.book.placeless import without_place
from slackwater.errors import BadInput, Conflict, NotFound
from tests.book.pictures import PLACE, encoded, jpeg, picture
from tests.book.places import NOON, one_of_each

KINDS = ("JPEG", "PNG", "WEBP")


def shown(content):
    with Image.open(io.BytesIO(content)) as opened:
        return np.asarray(opened.convert("RGB")), opened.getexif()


@pytest.mark.parametrize("kind", KINDS)
def test_the_original_is_kept_to_the_byte_and_a_small_one_is_made(book, kind):
    known = one_of_each(book)
    content = encoded(kind, told=True)
    row = photos.add(book, content, at=NOON, by="me", job_id=known.job, tank_id=known.tank, caption="left")
    assert photos.original(book, row.id) == content
    assert (row.media_type, row.width_px, row.height_px) == (f"image/{kind.lower()}", 64, 48)
    assert row.has_place
    with Image.open(io.BytesIO(photos.thumbnail(book, row.id))) as small:
        assert (small.format, small.size) == ("JPEG", (64, 48))
        assert not small.getexif()
    assert photos.of_job(book, known.job) == [row]


def test_a_thumbnail_is_upright_and_no_longer_than_its_limit():
    out = io.BytesIO()
    turned = Image.Exif()
    turned[ExifTags.Base.Orientation] = 6  # the camera was held upright: rows run down the right side
    picture(2000, 1000).save(out, "JPEG", exif=turned)
    seen = look_at(out.getvalue())
    assert (seen.width_px, seen.height_px) == (1000, 2000)
    with Image.open(io.BytesIO(seen.thumbnail)) as small:
        assert small.size == (240, 480)


@pytest.mark.parametrize("kind", KINDS)
def test_taking_the_place_out_leaves_picture_turn_and_time(kind):
    content = encoded(kind, turn=6, told=True)
    assert PLACE.encode() in content or kind == "PNG"
    clean = without_place(content)
    before, after = shown(content), shown(clean)
    assert np.array_equal(before[0], after[0])
    assert after[1].get(ExifTags.Base.Orientation) == 6
    assert after[1].get(ExifTags.Base.DateTime) == "2027:02:10 08:05:00"
    assert set(after[1]) == {ExifTags.Base.Orientation, ExifTags.Base.DateTime}
    assert not look_at(clean).has_place
    assert PLACE.encode() not in clean and b"GPS" not in clean


def test_a_picture_hung_on_behind_the_end_goes_with_its_place():
    clean = without_place(jpeg() + encoded("JPEG", told=True))
    assert clean == without_place(jpeg())
    assert clean.endswith(b"\xff\xd9")


def test_a_picture_stored_in_several_passes_stays_whole():
    out = io.BytesIO()
    picture(200, 120).save(out, "JPEG", progressive=True, comment=PLACE.encode(), icc_profile=b"x" * 70_000)
    clean = without_place(out.getvalue())
    assert np.array_equal(shown(out.getvalue())[0], shown(clean)[0])
    assert PLACE.encode() not in clean
    with Image.open(io.BytesIO(clean)) as opened:
        assert opened.info["icc_profile"] == b"x" * 70_000


@pytest.mark.parametrize("kind", KINDS)
def test_a_cut_off_picture_is_refused_and_nothing_else_happens(kind):
    content = encoded(kind, told=True)
    for share in np.random.default_rng(3).uniform(0.02, 0.9, 40):
        cut = content[: int(len(content) * share)]
        with pytest.raises(BadInput):
            look_at(cut)
        try:
            without_place(cut)
        except BadInput:
            continue


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_with_changed_bytes_is_shown_or_refused_with_a_sentence(kind):
    base, rng = encoded(kind, turn=6, told=True), np.random.default_rng(5)
    for _ in range(300):
        content = bytearray(base)
        reach = min(len(base), int(rng.choice([40, 400, len(base)])))
        for at in rng.integers(2, reach, rng.integers(1, 6)):
            content[at] = rng.integers(0, 256)
        for act in (look_at, without_place):
            try:
                act(bytes(content))
            except BadInput:
                continue


def test_on_request_the_stored_original_loses_its_place_and_the_old_file_is_gone(book):
    known = one_of_each(book)
    row = photos.add(book, encoded("JPEG", told=True), at=NOON, by="me", job_id=known.job)
    changed = photos.take_place_out(book, row.id)
    assert not changed.has_place and changed.sha256 != row.sha256
    assert PLACE.encode() not in photos.original(book, row.id)
    files = [path for path in book.folder.glob("originals/*/*")]
    assert [path.name for path in files] in ([], [changed.sha256])
    assert photos.take_place_out(book, row.id).sha256 == changed.sha256
    assert photos.original(book, row.id)


def bomb(width: int, height: int) -> bytes:
    """A PNG of one colour, some kilobytes for any number of pixels."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    packed = zlib.compress(b"\x00" * ((width + 1) * 100), 9)
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (bomb(9000, 9000), "9000 x 9000 pixels, more than 60 million"),
        (bomb(12000, 12000), "12000 x 12000 pixels, more than 60 million"),
        (bomb(60000, 60000), "far more than 60 million pixels"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "no picture that can be kept"),
        (b"", "no picture that can be kept"),
        (b"GIF89a\x01\x00\x01\x00\x00\x00\x00;", "no picture that can be kept"),
        (b"%PDF-1.7", "no picture that can be kept"),
        (b"\xff" * (LARGEST_BYTES + 1), "has 25 MB, expected at most 25 MB"),
    ],
    ids=["81 million", "144 million", "3600 million", "svg", "nothing", "gif", "pdf", "large"],
)
def test_what_is_no_picture_or_too_large_is_refused_with_a_sentence(book, content, said):
    known = one_of_each(book)
    with pytest.raises(BadInput, match=said):
        photos.add(book, content, at=NOON, by="me", job_id=known.job)
    assert photos.of_job(book, known.job) == []
    assert not list(book.folder.glob("originals/*/*"))


def test_a_photo_belongs_to_what_is_in_the_book(book):
    known = one_of_each(book)
    row = photos.add(book, jpeg(), at=NOON, by="me", job_id=known.job)
    with pytest.raises(NotFound, match="no job"):
        photos.add(book, jpeg(), at=NOON, by="me", job_id=known.tank)
    with pytest.raises(Conflict):
        photos.add(book, jpeg(), at=NOON, by="me", job_id=known.job, photo_id=row.id)
    assert photos.of_job(book, known.job) == [row]


def test_the_record_before_work_holds_its_photos(book):
    known = one_of_each(book)
    one, two = (photos.add(book, jpeg(), at=NOON, by="me", job_id=known.job).id for _ in range(2))
    seen = conditions.add(
        book, known.job, part=conditions.Part.SCRATCHES, place="front", seen="12 cm", at=NOON, by="me", photo_ids=[one]
    )
    conditions.add_photo(book, seen.id, two)
    conditions.add_photo(book, seen.id, two)
    (kept,) = conditions.of_job(book, known.job)
    assert kept.photo_ids == tuple(sorted((one, two)))
    with pytest.raises(NotFound, match="no photo"):
        conditions.add(
            book, known.job, part=conditions.Part.FLOOR, seen="wet", at=NOON, by="me", photo_ids=[known.tank]
        )
    assert conditions.of_job(book, known.job) == [kept]


def test_a_document_comes_back_as_it_was_and_its_kind_is_a_word_only(book):
    known = one_of_each(book)
    kept = documents.add(
        book, known.job, b"%PDF-1.7 x", title="../../paper", media_type="application/pdf", at=NOON, by="me"
    )
    assert documents.content(book, kept.id) == b"%PDF-1.7 x"
    assert documents.of_job(book, known.job) == [kept]
    with pytest.raises(BadInput, match="no kind of document"):
        documents.add(book, known.job, b"x", title="t", media_type="text/html\r\nX: y", at=NOON, by="me")
    with pytest.raises(BadInput, match="expected at most 25 MB"):
        documents.add(
            book, known.job, bytes(LARGEST_BYTES + 1), title="t", media_type="application/pdf", at=NOON, by="me"
        )
