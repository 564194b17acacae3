"""The range as a page: what stands in it, and what it does in a real browser."""

import base64
import io
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
from PIL import Image

from tests.browser_by_hand import browser
from tests.unit.test_range_order import entry
from texbake.range import write_range
from texbake.range.order import ordered
from texbake.range.page import range_page
from texbake.range.run import Drawn
from texbake.range.values import Card, Entry, Value

EVIL = "<b>&\"'</script><img src=x onerror=alert(1)>"


def drawn(*entries: Entry) -> Drawn:
    cards = tuple(
        Card(entry=one, view=np.full((375, 300, 3), 40 * k, np.uint8))
        for k, one in enumerate(ordered(entries, "hue"))
    )
    return Drawn(garment="ferry & vest", cards=cards, listed=tuple(e.name for e in entries))


def with_thread(name: str, colour: str, thread: str, of: str = "thread") -> Entry:
    plain = entry(name, colour)
    return Entry(
        name=name,
        mains=plain.mains,
        values=(*plain.values, Value(of=of, share="40%", hex=thread)),
        lab=plain.lab,
    )


RANGE = drawn(
    with_thread("navy", "#22324d", "#d9902f"),
    with_thread("lantern", "#cf8426", "#22324d"),
    with_thread("fog", "#aeb4b5", "#5f676a"),
    with_thread(EVIL, "#3a862a", "#010203", of='Rückenstoff <i>"船"'),
)


class Reader(HTMLParser):
    """Gathers tags, and what buttons copy."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    return reader


def test_names_and_values_are_escaped_and_whole() -> None:
    tags = read(range_page(RANGE)).tags
    copied = [attrs["data-copy"] for tag, attrs in tags if tag == "button"]
    assert {EVIL, "navy", "#3a862a", "#010203"} <= set(copied)
    assert len(copied) == 4 * 3
    assert sum(tag == "script" for tag, _ in tags) == 1
    assert not any(tag in {"b", "i"} for tag, _ in tags)
    assert sum(tag == "img" for tag, _ in tags) == 4


def test_nothing_is_loaded_from_anywhere() -> None:
    text = range_page(RANGE)
    for tag, attrs in read(text).tags:
        assert not {"href", "srcset", "data"} & set(attrs), tag
        assert (attrs.get("src") or "data:").startswith("data:")
    assert "http:" not in text.replace("http-equiv", "")
    assert "https:" not in text
    assert "url(" not in text
    assert "@import" not in text


def test_views_are_inlined_as_they_are() -> None:
    sources = [attrs["src"] or "" for tag, attrs in read(range_page(RANGE)).tags if tag == "img"]
    for card, source in zip(RANGE.cards, sources, strict=True):
        image = Image.open(io.BytesIO(base64.b64decode(source.split(",")[1])))
        assert image.size == (300, 375)
        assert np.abs(np.asarray(image, np.int16) - card.view).max() <= 3


def test_the_same_range_gives_the_same_page() -> None:
    assert range_page(RANGE) == range_page(RANGE)


def test_a_long_range_is_several_pictures_of_even_length_and_one_page(tmp_path: Path) -> None:
    view = np.zeros((375, 300, 3), np.uint8)
    cards = tuple(Card(entry=entry(f"c{k}", f"#{k:02x}8040"), view=view) for k in range(130))
    long = Drawn(garment="vest", cards=cards, listed=tuple(card.entry.name for card in cards))
    written = write_range(long, picture=tmp_path / "vest.png")
    names = [(what, path.name) for what, path in written]
    assert names == [("picture", "vest-1.png"), ("picture", "vest-2.png"), ("page", "vest.html")]
    with Image.open(written[0][1]) as first, Image.open(written[1][1]) as second:
        assert first.size == second.size
    assert (tmp_path / "vest.html").read_text("utf-8").count("<article") == 130


SHOWN = "[...document.querySelectorAll('article')].filter(a => !a.hidden)"
NAMES = f"{SHOWN}.map(a => a.querySelector('h2 button').dataset.copy)"
TOLD = "document.getElementById('told').textContent"


def test_a_maker_searches_sorts_and_copies_in_a_real_browser(tmp_path: Path) -> None:
    path = tmp_path / "range.html"
    path.write_text(range_page(RANGE), encoding="utf-8")
    with browser(tmp_path / "profile") as page:
        # The clipboard is read back to see what a click copied: a right that people give by hand.
        page.ask("Browser.grantPermissions", permissions=["clipboardReadWrite"])
        page.open(path)
        assert page.run("window.isSecureContext")
        assert page.run(TOLD) == "4 colourways"
        assert page.run("[...document.images].every(i => i.complete && i.naturalWidth === 300)")
        assert page.run(NAMES) == [card.entry.name for card in RANGE.cards]

        for typed, found in (
            ("nav", ["navy"]),
            ("#22324D", ["lantern", "navy"]),
            ("#22324d lant", ["lantern"]),
            ("RUCKEN", [EVIL]),
            ('<b>&"', [EVIL]),
            ("船", [EVIL]),
            ("violet", []),
        ):
            page.type_into("#search", typed)
            assert sorted(page.run(NAMES)) == sorted(found), typed
            assert page.run(TOLD) == f"{len(found)} of 4"
            assert page.run("document.getElementById('none').hidden") == bool(found)
        page.run("document.getElementById('search').select()")
        for kind in ("keyDown", "keyUp"):
            page.ask("Input.dispatchKeyEvent", type=kind, key="Delete", windowsVirtualKeyCode=46)
        assert page.run(TOLD) == "4 colourways"

        page.run(
            "(() => { const s = document.getElementById('sort'); s.value = 'listed';"
            "s.dispatchEvent(new Event('change')); })()"
        )
        assert page.run(NAMES) == ["navy", "lantern", "fog", EVIL]

        for text in ("#d9902f", "navy"):
            page.click(f"button[data-copy='{text}']")
            assert page.run("new Promise(r => setTimeout(r, 100)).then(() => 1)")
            assert page.run("navigator.clipboard.readText()") == text
            assert page.run(TOLD) == f"copied {text}"
        page.click("article:nth-of-type(4) h2 button")
        assert page.run("new Promise(r => setTimeout(r, 100)).then(() => 1)")
        assert page.run("navigator.clipboard.readText()") == EVIL

        # Nothing was fetched, and the browser had nothing to complain about.
        asked = [
            event["params"]["request"]["url"].split(":")[0]
            for event in page.events
            if event.get("method") == "Network.requestWillBeSent"
        ]
        assert set(asked) <= {"file", "data"}
        assert not [e for e in page.events if e.get("method") == "Log.entryAdded"]
        assert not [e for e in page.events if e.get("method") == "Runtime.exceptionThrown"]


def test_a_browser_without_a_clipboard_copies_the_older_way(tmp_path: Path) -> None:
    path = tmp_path / "range.html"
    path.write_text(range_page(RANGE), encoding="utf-8")
    with browser(tmp_path / "profile") as page:
        page.ask("Browser.grantPermissions", permissions=["clipboardReadWrite"])
        page.open(path)
        page.run(
            "Object.defineProperty(navigator.clipboard, 'writeText',"
            "{value: () => Promise.reject(new Error('no'))})"
        )
        page.click("button[data-copy='#cf8426']")
        assert page.run("new Promise(r => setTimeout(r, 100)).then(() => 1)")
        assert page.run("navigator.clipboard.readText()") == "#cf8426"
        assert page.run("document.querySelectorAll('textarea').length") == 0
