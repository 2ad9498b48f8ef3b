"""Who is let in: the holder of the cookie, from this page's address, and nobody else."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from tests.conftest import DEMO

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")
pytest.importorskip("websockets")
from tests.live.serving import served
from websockets.exceptions import InvalidStatus

ELSEWHERE = [
    {"host": "evil.example"},
    {"host": "127.0.0.1:1"},
    {"host": ""},
    {"origin": "http://evil.example"},
    {"origin": "null"},
    {"origin": "http://127.0.0.1:1"},
]
NO_FILES = (
    "/../opened.py",
    "/%2e%2e/opened.py",
    "/..%2fopened.py",
    "//etc/passwd",
    "/page/../../opened.py",
    "/engine.yaml",
    "/%00",
)
NONSENSE = [
    "",
    "{",
    "[]",
    "null",
    '{"do": 1}',
    '{"do": "eval"}',
    '{"do": "put"}',
    '{"do": ["put"]}',
    '{"do": "put", "path": 3, "text": "1", "candidate": "long"}',
    '{"do": "put", "path": ["intake"], "text": {}, "candidate": "nobody"}',
    '{"do": "put", "path": ["__class__"], "text": "1", "candidate": "long"}',
    '{"do": "put", "path": [{"a": 1}], "text": "1", "candidate": "long"}',
    '{"do": "order", "names": 7}',
    '{"do": "why", "candidate": "long", "rpm": "fast"}',
    '{"do": "why", "candidate": ["long"], "rpm": 1e99}',
    '{"do": "add", "candidate": "long", "to": "../../x"}',
    "[" * 30000,
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("door")


@pytest.fixture(scope="module")
def inside(folder):
    """A page whose user has come in."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
        (folder / "engine.yaml").write_bytes(DEMO.read_bytes())
        with served(folder / "engine.yaml") as one:
            one.enter()
            yield one


@pytest.fixture
def unopened(tmp_path, monkeypatch):
    """A page to which nobody has been yet."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "engine.yaml").write_bytes(DEMO.read_bytes())
    with served(tmp_path / "engine.yaml") as one:
        yield one


def test_nobody_without_the_cookie(unopened):
    for path in ("/", "/page.js", "/follow", "/?token=wrong", "/?token="):
        assert unopened.get(path)[0] == 403
    with pytest.raises(InvalidStatus), unopened.page(cookie=f"{unopened.door.cookie}=guess"):
        pass


def test_the_token_is_exchanged_once_and_leaves_the_address(unopened):
    address = unopened.door.address.partition(unopened.host)[2]
    status, headers = unopened.enter()
    assert (status, headers["location"]) == (303, "/")
    cookie = headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    status, headers, _ = unopened.get("/", cookie=unopened.cookie)
    assert status == 200
    assert headers["content-security-policy"].startswith("default-src 'self'")
    assert "access-control-allow-origin" not in headers
    assert unopened.get(address)[0] == 403
    assert unopened.get("/", cookie=f"{unopened.door.cookie}=guess")[0] == 403


@pytest.mark.parametrize("headers", ELSEWHERE, ids=lambda h: " ".join(h.values()) or "none")
def test_nobody_from_elsewhere(inside, headers):
    assert inside.get("/", cookie=inside.cookie, **headers)[0] in (400, 403)
    told = {"origin": headers.get("origin"), "host": headers.get("host") or None}
    if any(told.values()):
        with pytest.raises(InvalidStatus), inside.page(**told):
            pass


def test_a_socket_without_origin_is_not_opened(inside):
    with pytest.raises(InvalidStatus), inside.page(origin=""):
        pass


@pytest.mark.parametrize("path", NO_FILES)
def test_no_file_but_those_of_the_page(inside, path):
    assert inside.get(path, cookie=inside.cookie)[0] in (404, 400)


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "PATCH"])
def test_nothing_is_sent_but_over_the_socket(inside, method):
    assert inside.get("/", method, cookie=inside.cookie)[0] == 405


@pytest.mark.parametrize("text", NONSENSE, ids=lambda t: t[:40] or "nothing")
def test_nonsense_over_the_socket_changes_nothing(inside, folder, text):
    before = (folder / "engine.yaml").read_bytes()
    with inside.page() as page:
        page.line.send(text)
        page.say(do="undo", n=77)
        told = page.hear(lambda m: m["kind"] == "state" and m.get("n") == 77)
    assert not told["changed"]
    assert (folder / "engine.yaml").read_bytes() == before


def test_a_message_that_is_too_long_ends_the_page(inside):
    with inside.page() as page:
        page.line.send("x" * 4_000_000)
        with pytest.raises(Exception, match=r"1009|too big"):
            page.hear(lambda m: False, 5.0)


def test_a_thousand_requests_at_once_harm_nothing(inside):
    with ThreadPoolExecutor(100) as pool:
        found = list(pool.map(lambda _: _status(inside), range(1000)))
    assert set(found) <= {200, 503, None}
    assert inside.get("/", cookie=inside.cookie)[0] == 200


def _status(inside):
    try:
        return inside.get("/page.css", cookie=inside.cookie)[0]
    except OSError:
        return None


def test_of_many_questions_the_first_and_the_last_are_answered(inside):
    """And the page is not held up by them."""
    with inside.page() as page:
        for rpm in range(3000, 3100):
            page.say(do="why", candidate="long", rpm=rpm)
        page.say(do="undo", n=5)
        page.hear(lambda m: m.get("n") == 5, 5.0)
        found = [page.hear(lambda m: m["kind"] == "why") for _ in range(2)]
    assert [m["rpm"] for m in found] == [3000, 3099]


def test_hostile_texts_stay_texts(inside):
    """They go out as JSON, and the page writes them as text alone (test_live_page.py)."""
    title = '</script><img src=x onerror="alert(1)">'
    with inside.page() as page:
        page.say(do="put", path=["title"], text=title, candidate="long", n=1)
        assert page.hear(lambda m: m.get("n") == 1)["title"] == title
        page.say(do="undo", n=2)
        page.hear(lambda m: m.get("n") == 2)


def test_a_second_page_is_told_and_may_take_over(inside):
    with inside.page() as first, inside.page() as second:
        assert first.hear(lambda m: m["kind"] == "state")["mine"]
        assert not second.hear(lambda m: m["kind"] == "state")["mine"]
        second.say(do="put", path=["title"], text="x", candidate="long", n=1)
        second.say(do="take over")
        told = second.hear(lambda m: m["kind"] == "state" and m["mine"])
        assert not told["changed"]
        assert not first.hear(lambda m: m["kind"] == "state" and not m["mine"])["changed"]
