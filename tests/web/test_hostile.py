"""What a careless hand or a page of the net may send: each answer is a sentence with the right status, and nothing is lost."""

from __future__ import annotations

import io
import json
import logging
import re
import shutil
import socket
import struct
import zipfile
import zlib
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import quote, urlsplit

import httpx
import pytest
from PIL import Image
from starlette.responses import StreamingResponse
from starlette.routing import Mount

from slackwater.actions.book import bring_in
from slackwater.actions.plan_work import Wanted
from slackwater.book import jobs, photos
from slackwater.errors import SlackwaterError
from slackwater.job.form import parts
from slackwater.job.text import read_text, set_value
from slackwater.web.app import create_app
from tests.web.browser import open_door
from tests.web.conftest import EXAMPLE, NOW, put_plan

NOBODY = "0190a000-0000-7000-8000-00000000dead"
UNSAFE = {"POST", "PUT", "PATCH", "DELETE"}
PARTS = [part.id for part in parts()]
HOSTILE = "<marker-tag onclick=alert(1)>\"'></title><marker-tag>"
BASE = 'format = 1\nname = "x"\n'


# ---------------------------------------------------------------- every address of the app, as the app itself says


def addresses(app):
    """Method and address pattern of all that the app answers; a new route is in by itself."""
    found = []
    for route in app.routes:
        router = getattr(route, "original_router", None)
        for inner in (route,) if router is None else router.routes:
            if isinstance(inner, Mount):
                found.append(("GET", f"{inner.path}/style.css"))
            else:
                found += [(method, inner.path) for method in sorted(inner.methods - {"HEAD"})]
    return found


def filled(pattern, **ids):
    """An address with ids in place of its parameters; those not given are of nobody."""
    usual = {"part_id": "tank", "number": "1", "n": "1", "name": "offer.pdf"}
    return re.sub(r"{(\w+)(:\w+)?}", lambda match: ids.get(match[1], usual.get(match[1], NOBODY)), pattern)


def sentence(answer):
    """The one sentence of a refusal, read off the page or the JSON."""
    if answer.headers["content-type"].startswith("application/json"):
        assert set(answer.json()) == {"status", "message"}
        return answer.json()["message"]
    (told,) = re.findall(r'<p class="notice bad" role="alert">(.*?)</p>', answer.text, re.DOTALL)
    return unescape(told)


def sound(answer, settings):
    """Whether an answer is one that a person may see: no failure, nothing of the inside, a sentence where it refuses."""
    assert answer.status_code < 500, answer.text
    for inside in ("Traceback", "site-packages", "sqlalchemy", "sqlite3", 'File "', str(settings.home)):
        assert inside not in answer.text
    if answer.status_code >= 400 and "survey" not in answer.text:
        assert sentence(answer).strip()
    return answer


@pytest.fixture
def state(office):
    """What is in the book and may not change: all jobs, and the newest text of each."""

    def now():
        rows = jobs.listed(office.book, limit=1000)
        return [(row, jobs.newest(office.book, row.id).text, len(photos.of_job(office.book, row.id))) for row in rows]

    return now


def test_the_addresses_are_really_those_of_the_app(app):
    found = addresses(app)
    expected = {("POST", "/units"), ("POST", "/jobs/{job_id}/photos"), ("POST", "/api/jobs/{job_id}/events")}
    assert expected <= set(found)
    assert {("GET", "/"), ("GET", "/static/style.css"), ("GET", "/api/openapi.json")} <= set(found)


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://localhost:8765.evil.example"},
        {"origin": "http://localhost:8766"},
        {"origin": ""},
        {"origin": "", "sec-fetch-site": "cross-site"},
        {"origin": "", "sec-fetch-site": "same-site"},
        {"origin": "http://evil.example", "sec-fetch-site": "same-origin"},
    ],
    ids=str,
)
def test_no_address_lets_another_page_change_anything(app, call, job_id, state, settings, headers):
    before = state()
    for method, pattern in addresses(app):
        if method in UNSAFE:
            answer = call(method, filled(pattern, job_id=job_id), headers=headers)
            assert answer.status_code == 403, pattern
            assert sentence(sound(answer, settings))
    for method in sorted(UNSAFE):
        assert call(method, f"/jobs/{job_id}", headers=headers).status_code == 403
    assert state() == before


def test_no_address_answers_under_a_name_of_the_net(app, call, job_id, settings):
    for method, pattern in addresses(app):
        for host in (
            "evil.example:8765",
            "localhost.evil.example",
            "127.0.0.1.evil.example",
            "8765",
            "[::1].evil.example",
        ):
            answer = call(method, filled(pattern, job_id=job_id), headers={"host": host, "origin": f"http://{host}"})
            assert answer.status_code == 421, (pattern, host)
            assert "Light well" not in sound(answer, settings).text


def guarded(answer):
    policy = answer.headers["content-security-policy"]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'self'" and "unsafe" not in policy and "*" not in policy and "http" not in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["x-frame-options"] == "DENY"


def test_every_answer_is_guarded_and_no_other_brings_a_cookie_but_units_and_signing_out(app, call, planned, settings):
    @app.get("/break")
    def broken():
        raise RuntimeError("inside")

    answers = []
    for method, pattern in addresses(app):
        for ids in ({"job_id": planned}, {}, {"job_id": "\x7f' OR 1=1"}):
            if method == "POST" and pattern.endswith(("/plan", "/restart", "/change")) and ids.get("job_id") == planned:
                continue  # would begin long work
            answers.append((pattern, call(method, quote(filled(pattern, **ids), safe="/"))))
    more = {"origin": "http://evil.example"}, {"host": "evil.example"}
    answers += [("/units", call.post("/units", headers=headers)) for headers in more]
    answers += [("/x", call("DELETE", "/")), ("/x", call.get("/static/none.css")), ("/x", call.get("/break"))]
    huge = {"content-type": "multipart/form-data; boundary=x", "content-length": "50000000"}
    answers.append(("/x", call.post("/jobs/bring-in", content=b"--x", headers=huge)))
    assert {answer.status_code for _, answer in answers} >= {200, 303, 403, 404, 405, 413, 421, 422, 500}
    for pattern, answer in answers:
        guarded(answer)
        if pattern not in ("/units", "/sign-out"):
            assert "set-cookie" not in answer.headers
    cookie = call.post("/units", data={"units": "us"}).headers["set-cookie"].lower()
    assert cookie.startswith("units=us;") and "httponly" in cookie and "samesite=lax" in cookie


def test_an_unknown_job_is_told_the_same_everywhere(app, call, job_id, settings):
    """Who asks learns nothing from how he is refused: not whether an id was ever used, nor by whom."""
    data = {"based_on": "1", "name": "x", "site": "x", "client": "x", "key": "tank.length", "value": "1 m"}
    picture = io.BytesIO()
    Image.new("RGB", (4, 3)).save(picture, "PNG")
    told = set()
    for method, pattern in addresses(app):
        if "{job_id}" not in pattern:
            continue
        address = filled(pattern)
        if pattern.endswith("/photos"):
            answer = call.post(address, files={"file": ("a.png", picture.getvalue())})
        elif address.startswith("/api/"):
            body = {"revision": 0} if "/layout/" in pattern else []
            if pattern.endswith("/layout/edits"):
                body = {"revision": 0, "edits": [{"act": "rest"}]}
            answer = call(method, address, **({"json": body} if method == "POST" else {}))
        else:
            answer = call(method, address, **({"data": data} if method == "POST" else {}))
        assert answer.status_code == 404, (method, pattern)
        told.add(sentence(sound(answer, settings)))
    assert len(told) == 1, told
    assert job_id not in told.pop()


def test_a_photo_of_another_job_is_as_unknown_as_one_that_never_was(call, office, job_id):
    other = jobs.create(office.book, text=BASE, at=NOW, by="").id
    picture = io.BytesIO()
    Image.new("RGB", (40, 30)).save(picture, "PNG")
    kept = photos.add(office.book, picture.getvalue(), at=NOW, by="", job_id=other).id
    assert call.get(f"/jobs/{other}/photos/{kept}").status_code == 200
    for end in ("", "/small"):
        theirs, none = (call.get(f"/jobs/{job_id}/photos/{photo}{end}") for photo in (kept, NOBODY))
        assert theirs.status_code == none.status_code == 404
        assert sentence(theirs) == sentence(none)


# ---------------------------------------------------------------- what stands in a page


class Elements(HTMLParser):
    """What a browser would make of a page: its tags with their attributes, and the text of scripts and styles."""

    def __init__(self, page):
        super().__init__()
        self.tags = []
        self.inline = []
        self._raw = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self._raw = tag if tag in ("script", "style") else ""

    def handle_endtag(self, tag):
        self._raw = ""

    def handle_data(self, data):
        if self._raw and data.strip():
            self.inline.append(data)


def harmless(page):
    elements = Elements(page)
    assert not elements.inline
    for tag, attributes in elements.tags:
        assert tag not in ("style", "marker-tag", "iframe", "object", "embed", "base"), tag
        for name, value in attributes.items():
            assert not name.startswith("on") and name != "style" and "marker-tag" not in name, (tag, name)
            if name in ("href", "src", "action", "formaction", "xlink:href", "hx-get", "hx-post"):
                where = urlsplit(value or "")
                assert not where.netloc and where.scheme in ("", "data"), (tag, value)


def pages(app, call, **ids):
    """All pages that can be looked at, with the ids of something that is there."""
    for method, pattern in addresses(app):
        if method != "GET" or pattern.startswith(("/api", "/static")):
            continue
        for part in PARTS if "{part_id}" in pattern else ("tank",):
            answer = call.get(filled(pattern, part_id=part, **ids))
            if answer.headers.get("content-type", "").startswith("text/html"):
                yield pattern, answer


def test_what_people_call_things_is_shown_as_text_on_every_page(app, call, office, computed, settings):
    text = EXAMPLE.replace('"Light well"', json.dumps(HOSTILE))
    for key in (("reference",), ("site", "name"), ("site", "rules"), ("tank", "name")):
        text = set_value(text, key, HOSTILE) if key != ("tank", "name") else text
    text += f"\n[[plants]]\nplant = {json.dumps(HOSTILE)}\nunits = 3\n"
    job = jobs.create(office.book, text=text, at=NOW, by="").id
    call.post(f"/jobs/{job}/house", data={"client": HOSTILE, "site": HOSTILE})
    picture = io.BytesIO()
    Image.new("RGB", (40, 30)).save(picture, "PNG")
    call.post(f"/jobs/{job}/photos", files={"file": ("a.png", picture.getvalue())}, data={"caption": HOSTILE})
    own = Path(settings.home) / "own"
    shutil.copytree(computed, own)
    page = (own / "page.json").read_text(encoding="utf-8").replace("Light well", json.dumps(HOSTILE)[1:-1])
    (own / "page.json").write_text(page, encoding="utf-8")
    task = put_plan(office, own, Wanted(job, 1, "metric"))
    other = jobs.create(office.book, text=f"{text}# other\n", at=NOW, by="").id
    put_plan(office, own, Wanted(other, 1, "metric"))
    shown = dict(pages(app, call, job_id=job, task_id=task.id))
    both = f"{job}:1", f"{other}:1"
    shown["two"] = call.get("/compare", params={"before": both[0], "after": both[1]})
    shown["changed"] = call.get(f"/jobs/{job}/change", params={"key": "name", "value": HOSTILE})
    shown["asked"] = call.get(f"/jobs/{job}/change", params={"key": HOSTILE, "value": HOSTILE})
    for answer in shown.values():
        assert answer.status_code in (200, 404, 422), answer.text
        harmless(answer.text)
    named = (
        "/",
        "/jobs",
        "/jobs/{job_id}",
        "/jobs/{job_id}/survey/{part_id}",
        "/jobs/{job_id}/plan",
        "/compare",
        "two",
    )
    for pattern in named:
        assert shown[pattern].status_code == 200
        assert "&lt;marker-tag" in shown[pattern].text, pattern
    assert call.get(f"/jobs/{HOSTILE.replace('/', '')}").status_code == 404
    harmless(call.get(f"/jobs/{quote(HOSTILE, safe='')}").text)
    harmless(call.get("/tasks/" + quote("<marker-tag>", safe="")).text)


def test_every_page_holds_no_script_and_no_style_of_its_own(app, call, planned, office):
    task = put_plan_task(office)
    seen = [pattern for pattern, answer in pages(app, call, job_id=planned, task_id=task) if not harmless(answer.text)]
    assert {
        "/",
        "/jobs",
        "/jobs/new",
        "/jobs/{job_id}/plan",
        "/jobs/{job_id}/change",
        "/compare",
        "/tasks/{task_id}",
    } <= set(seen)
    harmless(call.get("/nowhere").text)


def put_plan_task(office):
    from slackwater.book import tasks

    asked = {"version": 1, "units": "metric", "changes": []}
    return tasks.add(office.book, kind="other", arguments=asked, at=NOW, by="").id


def test_a_name_with_line_ends_adds_no_line_to_the_calendar_or_to_a_header(call, office):
    name = "a\r\nX-EVIL:1\r\nBEGIN:VALARM\nX-EVIL:2"
    text = set_value(EXAMPLE, ("name",), name)
    job = jobs.create(office.book, text=text, at=NOW, by="").id
    lines = call.get("/calendar.ics").content.split(b"\r\n")
    assert any(line.startswith(b"SUMMARY:a") for line in lines)
    assert not [line for line in lines if line.startswith((b"X-EVIL", b"BEGIN:VALARM")) or b"\n" in line]
    out = call.get(f"/jobs/{job}/job.toml")
    assert "x-evil" not in out.headers
    assert re.fullmatch(r'attachment; filename="[a-z0-9-]+\.toml"', out.headers["content-disposition"])


# ---------------------------------------------------------------- files


def bomb(side):
    """A PNG that claims side x side pixels of one colour and has some kilobytes."""

    def chunk(kind, content):
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    packed = zlib.compress(bytes(2_000_000), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("seam.jpg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'><script>alert(1)</script></svg>"),
        ("seam.png", b"<!doctype html><script>alert(1)</script>"),
        ("seam.jpg", b"%PDF-1.7\n"),
        ("seam.jpg", b"MZ\x90\x00" + bytes(500)),
        ("seam.jpg", b"PK\x03\x04" + bytes(500)),
        ("seam.png", bomb(50_000)),
        ("seam.png", b"\x89PNG\r\n\x1a\n" + bytes(100)),
        ("seam.jpg", b""),
    ],
    ids=["svg", "html", "pdf", "program", "zip", "2.5 thousand million pixels", "damaged", "empty"],
)
def test_what_is_no_picture_is_refused_with_a_sentence(call, job_id, state, settings, name, content):
    before = state()
    assert len(content) < 10_000
    answer = call.post(f"/jobs/{job_id}/photos", files={"file": (name, content, "image/jpeg")})
    assert answer.status_code == 422
    assert len(sentence(sound(answer, settings))) > 20
    assert state() == before
    assert not [file for file in (settings.home / "originals").rglob("*") if file.is_file()]


@pytest.mark.parametrize("address", ["/jobs/{job}/photos", "/jobs/bring-in"])
@pytest.mark.parametrize("announced", [True, False])
def test_fifty_megabytes_are_refused_whether_announced_or_not(call, job_id, state, settings, address, announced):
    head = b'--x\r\ncontent-disposition: form-data; name="file"; filename="a.jpg"\r\n\r\n'
    taken = 0

    async def pieces():
        nonlocal taken
        yield head
        for _ in range(50):
            taken += 1
            yield bytes(1_000_000)

    headers = {"content-type": "multipart/form-data; boundary=x"}
    if announced:
        headers["content-length"] = str(50_000_000 + len(head))
    before = state()
    answer = call.post(address.format(job=job_id), content=pieces(), headers=headers)
    assert answer.status_code == 413
    assert "Nothing was changed" in sentence(sound(answer, settings))
    assert announced or taken <= 31
    assert state() == before


@pytest.mark.parametrize(
    "name",
    [
        b"../../../../escaped.png",
        b"..\\..\\escaped.png",
        b"/escaped.png",
        b"C:\\escaped.png",
        b"esc\x00aped.png",
        b"e" * 300 + b".png",
        "a\u202egnp.exe".encode(),
        b"CON.png",
        b"NUL",
        b"COM1.txt",
        b'a\\"; filename=\\"escaped.png',
        b"\xff\xfe.png",
        b"<script>alert(1)</script>.png",
        b".",
    ],
)
def test_a_file_is_kept_by_its_content_whatever_it_is_called(call, office, job_id, settings, name):
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "teal").save(picture, "PNG")
    body = (
        b'--x\r\ncontent-disposition: form-data; name="file"; filename="'
        + name
        + b'"\r\ncontent-type: image/png\r\n\r\n'
    )
    body += picture.getvalue() + b"\r\n--x--\r\n"
    headers = {"content-type": "multipart/form-data; boundary=x"}
    answer = sound(call.post(f"/jobs/{job_id}/photos", content=body, headers=headers), settings)
    assert answer.status_code in (303, 400)
    assert len(photos.of_job(office.book, job_id)) == (answer.status_code == 303)
    kept = [file.name for file in (settings.home / "originals").rglob("*") if file.is_file()]
    assert all(re.fullmatch(r"[0-9a-f]{64}(\.\w+)?", file) for file in kept)
    assert not [
        file for file in settings.home.parent.rglob("*") if "escaped" in file.name or file.name.startswith("e" * 30)
    ]
    harmless(call.get(f"/jobs/{job_id}").text)


def packed(path, files):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, size in files.items():
            made.writestr(name, bytes(size))
    return path


def test_a_zip_bomb_is_no_book(office, settings, tmp_path, state):
    before = state()
    bombs = [packed(tmp_path / "manifest.zip", {"manifest.json": 61_000_000})]
    assert bombs[0].stat().st_size < 100_000
    claim = packed(tmp_path / "claim.zip", {"manifest.json": 1000})
    # The list of contents claims four thousand million bytes for what has a thousand.
    claim.write_bytes(claim.read_bytes().replace(struct.pack("<I", 1000), struct.pack("<I", 4_000_000_000)))
    bombs.append(claim)
    bombs.append(packed(tmp_path / "many.zip", {f"{number}/../../x": 1 for number in range(20_000)}))
    for file in bombs:
        with pytest.raises(SlackwaterError) as told:
            bring_in(settings, file)
        assert str(file) in str(told.value) and "Traceback" not in str(told.value)
    assert state() == before


@pytest.mark.parametrize(
    "content",
    [
        b"".join(b"k%d=1\n" % number for number in range(1_000_000)),
        BASE.encode() + b"a = " + b"[" * 100_000,
        BASE.encode() + b"[" + b"a." * 100_000 + b"a]\n",
        BASE.encode() + b".".join([b"a"] * 50_000) + b" = 1\n",
        BASE.encode() + b"x = {" * 20_000,
        BASE.encode() + b"note = '\xff\xfe'\n",
        BASE.encode("utf-16"),
        BASE.encode() + b"note = '\xed\xa0\x80'\n",
        BASE.encode() + b"note = 'a\x00b'\n",
        BASE.encode() + b'note = "\\ud800"\n',
        BASE.encode() + b"n = " + b"9" * 5000 + b"\n",
        BASE.encode() + b'note = """' + b"\\\n" * 40_000,
        b"format = 1\nname = 5\n",
        b"format = 1\nname = ''\nname = ''\n",
    ],
    ids=[
        "million",
        "lists",
        "header",
        "dotted",
        "tables",
        "utf8",
        "utf16",
        "half",
        "zero",
        "escape",
        "digits",
        "ends",
        "5",
        "twice",
    ],
)
def test_what_is_no_job_file_is_refused_and_makes_no_job(call, state, settings, content):
    before = state()
    answer = call.post("/jobs/bring-in", files={"file": ("job.toml", content)})
    assert answer.status_code == 422
    assert len(sentence(sound(answer, settings))) > 20
    assert state() == before


@pytest.mark.parametrize(
    "more",
    [
        "[tank]\nlength = 1e999\nwidth = nan\nheight = -inf\n",
        "surveyed = 9999-12-31\n[[site.windows]]\nkind = 'day'\nstart = '9999-12-31 23:00'\nend = '9999-12-31 23:59'\n",
        "surveyed = 0001-01-01\n[[site.windows]]\nkind = 'day'\nstart = '0001-01-01 00:00'\nend = '0001-01-01 00:01'\n",
        "livestock = []\nplants = []\n",
        "livestock = 5\nplants = 'many'\ntank = 'none'\nsite = [1, 2]\n",
        "[[livestock]]\nspecies = 'x'\ncount = 99999999999999999999\n",
        "".join(f"[[plants]]\nplant = 'plant {'x' * 300} {number}'\nunits = {number}\n" for number in range(200)),
        "[nonsense.of.some.kind]\nlength = 1\n",
        "preparation = { ro = { may_run_from = '9999-12-31 23:59' } }\n[price]\noffer_date = 9999-12-31\n",
    ],
    ids=["not finite", "9999", "0001", "no animals", "wrong kinds", "count", "200 plants", "nonsense", "far dates"],
)
def test_an_odd_job_file_comes_in_and_every_page_shows_it(app, call, office, settings, more):
    text = f"format = 1\nname = {json.dumps('n' * 300)}\n{more}"
    answer = sound(call.post("/jobs/bring-in", files={"file": ("job.toml", b"\xef\xbb\xbf" + text.encode())}), settings)
    assert answer.status_code == 303
    job = answer.headers["location"].rpartition("/")[2]
    assert jobs.newest(office.book, job).text == text
    for pattern, page in pages(app, call, job_id=job):
        sound(page, settings)
        # A page of a job is there; what else an address names, nobody has put into this book.
        of_others = set(re.findall(r"{(\w+)", pattern)) - {"job_id", "part_id"}
        # Nor is there yet a file of what was not made: papers of no plan, a drawing of no tests.
        of_nothing = "papers" in pattern or "." in pattern.rpartition("/")[2]
        assert page.status_code == 200 or of_others or of_nothing, pattern
    assert sound(call.get("/calendar.ics"), settings).status_code == 200
    assert call.get(f"/jobs/{job}/job.toml").content == text.encode()
    assert sound(call.post(f"/jobs/{job}/copy", data={"name": "next"}), settings).status_code in (303, 422)


# ---------------------------------------------------------------- forms and calls


VALUES = {
    "far too large": "1e999",
    "no number": "NaN",
    "without end": "-inf cm",
    "digits": "9" * 5000,
    "year": "9999-12-31",
    "moment": "9999-12-31T23:59",
    "zero": "a\x00b",
    "script": HOSTILE,
    "turned": "a\u202eb\u200f",
    "long": "x" * 9000,
    "blanks": "\r\n\t ",
    "quotes": "\"\"\" ''' \\",
}


@pytest.mark.parametrize("value", VALUES.values(), ids=VALUES.keys())
def test_whatever_is_typed_into_every_field_is_kept_or_refused_with_a_sentence(call, office, settings, value):
    from tests.web.test_survey import Form

    job = jobs.create(office.book, text=EXAMPLE, at=NOW, by="").id
    for part in PARTS:
        form = Form(call.get(f"/jobs/{job}/survey/{part}").text)
        before = jobs.newest(office.book, job)
        sent = {name: [value] if name != "based_on" else values for name, values in form.sent().items()}
        answer = sound(call.post(f"/jobs/{job}/survey/{part}", data=sent), settings)
        assert answer.status_code in (303, 422), part
        after = jobs.newest(office.book, job)
        if answer.status_code == 422:
            assert after == before
        read_text(after.text)
        shown = sound(call.get(f"/jobs/{job}/survey/{part}"), settings)
        assert shown.status_code == 200
        harmless(shown.text)
    for address in (f"/jobs/{job}", "/", "/jobs", "/calendar.ics", f"/jobs/{job}/change", f"/jobs/{job}/plan"):
        assert sound(call.get(address), settings).status_code == 200


@pytest.mark.parametrize("raw", [b"%00", b"%ED%A0%80", b"%FF%FE", b"\xff", b"%", b"%zz", b"a=b=c&&&=;"])
def test_forms_of_broken_text_are_kept_or_refused(app, call, office, job_id, state, settings, raw):
    headers = {"content-type": "application/x-www-form-urlencoded"}
    for method, pattern in addresses(app):
        if method == "POST" and not pattern.startswith("/api") and not pattern.endswith(("/plan", "/change")):
            for name in (b"name", b"site", b"client", b"units", b"tank.length", b"do", raw):
                body = b"based_on=1&what=other&" + name + b"=" + raw
                answer = call.post(filled(pattern, job_id=job_id), content=body, headers=headers)
                assert sound(answer, settings).status_code in (303, 400, 401, 404, 409, 422, 429), (pattern, name)
    for row, text, _ in state():
        assert "\x00" not in text and row.name == row.name.encode().decode()


@pytest.mark.parametrize(
    ("name", "status"),
    [("n" * 200, 303), ("n" * 201, 422), ("n" * 300, 422), ("", 422), (" \r\n ", 422), ("a\x00b", 422)],
)
def test_a_name_is_kept_whole_or_refused(call, state, settings, name, status):
    answer = sound(call.post("/jobs/new", data={"name": name}), settings)
    assert answer.status_code == status
    assert [row.name for row, _, _ in state()] == ([name] if status == 303 else [])


@pytest.mark.parametrize(
    "query",
    [
        "plants=" + "9" * 5000,
        "plants=-1",
        "plants=%C2%B2",
        "version=99999999999999999999",
        "version=%C2%B2",
        "version=0",
        "version=NaN",
        "after=%00",
        "after=" + "x" * 5000,
        "before=x:%C2%B2&after=x:1",
        "before=" + NOBODY + ":" + "9" * 60,
        "key=tank.length&value=1e999",
        "key=tank.length&value=%00",
        "key=%00&value=1",
        "key=name&value=%ED%A0%80",
        "limit=1e999",
        "%00=%00",
    ],
)
def test_no_question_mark_breaks_an_address(app, call, job_id, settings, query):
    for method, pattern in addresses(app):
        if method == "GET" and not pattern.startswith("/static"):
            sound(call.get(f"{filled(pattern, job_id=job_id)}?{query}"), settings)


def event(**values):
    return {
        "id": "0190a000-0000-7000-8000-0000000000aa",
        "at": "2027-10-26T08:05:00",
        "kind": "noted",
        "job": "J",
        **values,
    }


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[",
        b"null",
        b"[null]",
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"a":' * 100_000,
        json.dumps([event(seq=2**63)]).encode(),
        json.dumps([event(seq=-1)]).encode(),
        json.dumps([event(at="9999-12-31T23:59:59")]).encode(),
        json.dumps([event(at="0000-00-00T00:00:00")]).encode(),
        json.dumps([event(body={"text": "a\x00b"})]).encode(),
        json.dumps([event(body={"text": "\ud800"})]).encode(),
        json.dumps([event(subject="\ud800")]).encode(),
        json.dumps([event(id="../..")]).encode(),
        json.dumps([event(kind="<script>")]).encode(),
        b'[{"id": 1e999}]',
        b"[NaN]",
        json.dumps([event(nobody="knows")]).encode(),
    ],
    ids=lambda body: body[:40].decode("latin-1"),
)
def test_events_of_any_form_are_kept_whole_or_refused(call, job_id, settings, body):
    where = f"/api/jobs/{job_id}/events"
    answer = sound(call.post(where, content=body, headers={"content-type": "application/json"}), settings)
    assert answer.status_code in (200, 400, 422)
    kept = sound(call.get(where), settings).json()["events"]
    taken = answer.json()["accepted"] if answer.status_code == 200 else []
    assert [item["event"]["id"] for item in kept] == [item["id"] for item in taken]
    assert len(answer.text) < 2000


# ---------------------------------------------------------------- what nobody foresaw, and a line that breaks off


@pytest.mark.parametrize("path", ["/break/{who}", "/api/break/{who}"])
def test_a_fault_of_ours_is_one_plain_answer_and_names_nobody_in_the_log(app, call, caplog, settings, path):
    @app.get(path)
    def broken(who: str):
        raise RuntimeError(f"{who}, door code 4711")

    with caplog.at_level(logging.DEBUG):
        answer = call.get(f"{path.format(who='Ada-Ames')}?name=Ames")
    assert answer.status_code == 500
    assert "Something went wrong" in sentence(answer)
    assert "4711" not in answer.text
    ours = [record for record in caplog.records if not record.name.startswith(("httpx", "httpcore"))]
    told = "".join(f"{record.getMessage()} {record.exc_info} {record.exc_text}" for record in ours)
    assert "Ames" not in told and "4711" not in told
    assert "RuntimeError" in told and "test_hostile.py" in told


def test_a_fault_in_the_middle_of_an_answer_cuts_it_off_and_names_nobody(app, settings, caplog):
    @app.get("/half")
    def half():
        def pieces():
            yield b"first"
            raise RuntimeError("Ames")

        return StreamingResponse(pieces(), headers={"content-length": "100"})

    with caplog.at_level(logging.DEBUG), open_door(app) as door, pytest.raises(httpx.RemoteProtocolError):
        httpx.get(f"{door}/half")
    assert "Ames" not in caplog.text


def test_slow_and_cut_off_calls_change_nothing_and_hold_up_nobody(settings, caplog):
    app = create_app(settings, clock=lambda: NOW)
    with caplog.at_level(logging.WARNING), open_door(app) as door:
        where = urlsplit(door)
        lines = []
        for body in (b"name=half", b"", b"name=" + b"x" * 50_000):
            for extra in (b"content-length: 1000000\r\n", b"transfer-encoding: chunked\r\n"):
                line = socket.create_connection((where.hostname, where.port))
                head = f"POST /jobs/new HTTP/1.1\r\nhost: {where.netloc}\r\norigin: {door}\r\n".encode()
                chunk = b"%x\r\n%b\r\n" % (len(body), body) if b"chunked" in extra and body else body
                line.sendall(head + b"content-type: application/x-www-form-urlencoded\r\n" + extra + b"\r\n" + chunk)
                lines.append(line)
        slow = [socket.create_connection((where.hostname, where.port)) for _ in range(60)]
        for line in slow:
            line.sendall(b"GET / HTTP/1.1\r\nhost: loc")
        assert httpx.get(door).status_code == 200
        for line in (*lines, *slow):
            line.close()
        assert httpx.get(f"{door}/api/jobs").json() == {"jobs": [], "next": None}
    assert "Traceback" not in caplog.text and not [record for record in caplog.records if record.exc_info]


def test_an_upload_above_the_limit_is_told_over_a_real_line(settings):
    app = create_app(settings, clock=lambda: NOW)

    def pieces():
        yield b'--x\r\ncontent-disposition: form-data; name="file"; filename="a.toml"\r\n\r\n'
        for _ in range(32):
            yield bytes(1_000_000)

    with open_door(app) as door:
        headers = {"origin": door, "content-type": "multipart/form-data; boundary=x"}
        try:
            status = httpx.post(f"{door}/jobs/bring-in", content=pieces(), headers=headers, timeout=60).status_code
        except httpx.WriteError:
            status = 413  # the line was closed before the last byte was sent
        assert status == 413
        assert httpx.get(f"{door}/api/jobs").json() == {"jobs": [], "next": None}
