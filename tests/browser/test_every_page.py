"""Every page: nothing axe finds, nothing that runs off a narrow screen, nothing the policy refuses, in English and Spanish."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.accessible import WCAG, faults_in_themes
from tests.browser.conftest import PHONE, Running, running

PLACE = "{g}/place/{p}"
PAGES = [
    "/", PLACE, "{g}/log", "{g}/log/new?kind=water", "{g}/log/new?kind=reading", "{g}/log/many", "{g}/log/files", "{g}/weather", "{g}/season", "{g}/away",
    "{g}/away?from=2017-07-10&until=2017-07-16&visits=1&every=3&timer=yes", "{g}/wishes",
    "/lay", "/lay?length=4&width=1.2&rows=3&soil=loam&supply=tap&tap=3&flow=12", "/lay?length=40&width=1&rows=0&soil=&supply=held&pressure=1",
    "/drip", "/drip?flow=2&run=60&deep=30&soil=loam&kind=emitter", PLACE + "/lay", PLACE + "/line", "/pipes?long=60&lines=4&rise=2&lead=5", "/cups", "/cups?caught=120 118 110 105%0A115 90 112 109%0A118 116 40 108%0A119 111 108 101&after=30&need=400",
    "{g}/lines", "{g}/timer", "{g}/timer?programmes=2&starts=4&days=weekdays&step=1&flow_cap=600&tank=900", "{g}/timer?programmes=2&tank=zzz", "{g}/timer/season", "{g}/timer/season?programmes=2&starts=4&days=weekdays&step=5&settings=2", "{g}/timer/check",
    "{g}/timer/check?set=mon,wed,sat+06:00+north+40+min%0Adaily+12:00+soaker+10+min&step=1",
    "{g}/setup", "{g}/print/round", "{g}/print/card", "{g}/print/away?from=2017-07-10&until=2017-07-16&visits=1&every=3&timer=yes", "{g}/take-away", "{g}/take-back", "/ask",
    "/ask?where=Lyon&plant=tomato&soil=loam", "/people", "/you", "/about", "/gardens", "/offline", "/plants", "/plants/carrot", "/soils", "/sign-in",
    "/nowhere",
]  # fmt: skip
#: What WCAG 2.2 AA asks of pages, and what is good practice beside.
RULES = (*WCAG, "best-practice")


#: Every chart is drawn.
DRAWN = "() => [...document.querySelectorAll('.chart-plot')].every(plot => plot.querySelector('svg'))"


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("app")) as app:
        yield app


def opened(browser: Browser, app: Running, path: str, **chosen: str) -> tuple[Page, list[str]]:
    context = browser.new_context(viewport=PHONE, service_workers="block", locale="en-GB")  # type: ignore[arg-type]
    context.add_cookies([{"name": "soakbook_reader", "value": quote(json.dumps(chosen)), "url": app.url}])
    page, wrong = context.new_page(), []  # type: ignore[var-annotated]
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda m: wrong.append(m.text) if "Content Security Policy" in m.text else None)
    place = app.house.store.document(app.key)["places"][1]["id"]
    page.goto(app.url + path.format(g=f"/g/{app.key}", p=place))
    page.wait_for_function(DRAWN)
    return page, wrong


@pytest.mark.parametrize("path", PAGES)
def test_page(app: Running, chromium: Browser, path: str) -> None:
    page, wrong = opened(chromium, app, path, language="en")
    assert faults_in_themes(page, tags=RULES) == [], path
    for width in (640, 320):
        page.set_viewport_size({"width": width, "height": 700})
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (
            f"{path} runs off at {width} px"
        )
    assert not wrong
    page.context.close()


#: Words without which hardly an English sentence is made, and the commonest ones of this trade; none is Spanish.
ENGLISH = frozenset(
    re.findall(r"\w+", """the of and with each for from which what when where how this that these it is are was were be been have had not but
    your you they their there here then than if or on to by at out into below above under before after until while every
    some any all more less much many other only also needs need water watered watering soil day days place places plant
    plants week today yesterday rain weather wind choose give write leave empty""")
)  # fmt: skip
#: The words a person sees or has read out, but for what is marked as English, code, and what is hidden from both.
SEEN = """() => {
    const left = '[lang=en], code, pre, kbd, script, style, [aria-hidden=true] [aria-label]', found = [document.title];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
    for (let at = walk.nextNode(); at; at = walk.nextNode()) {
        const element = at.nodeType === Node.TEXT_NODE ? at.parentElement : at;
        if (element.closest(left)) continue;
        if (at.nodeType === Node.TEXT_NODE) found.push(at.data);
        else for (const name of ['aria-label', 'title', 'placeholder', 'alt']) found.push(at.getAttribute(name) ?? '');
    }
    return found.map(text => text.trim()).filter(text => text);
}"""


def own_words(app: Running) -> list[str]:
    """What the garden's author wrote, and names of files: it stays as it is in any language."""
    document = app.house.store.document(app.key)
    named = [document["garden"], *(row for kind in ("places", "lines", "soils") for row in document.get(kind, []))]
    notes = [entry.text for entry in app.house.desk.entries(app.house.desk.known(app.key)) if entry.text]
    words = [
        *(row["name"] for row in named),
        *notes,
        str(document["garden"].get("weather", "")),
        "garden.toml",
        "garden.log.csv",
    ]
    return sorted((word for word in words if word), key=len, reverse=True)


def english_in(text: str, own: list[str]) -> set[str]:
    """English words of a text, but for the author's, what is quoted from a source, and the name of a licence."""
    for words in own:
        text = re.sub(re.escape(words), " ", text, flags=re.IGNORECASE)
    text = re.sub(r"'[^']*'|\[[^\]]*\]|\bCC BY\b|\w*_\w*|\S+\.\w+", " ", text)
    return ENGLISH & {word.casefold() for word in re.findall(r"[^\W\d_]+", text)}


def test_english_is_noticed() -> None:
    assert english_in("Regar tomato bed: hoy", ["tomato bed"]) == set()
    assert english_in("Regar tomato bed with care", ["tomato bed"]) == {"with"}
    assert english_in("fila 'Beans, dry and pulses' [Apr, Mediterranean and arid]", []) == set()


SPANISH_PAGES = [
    *(path.replace("plant=tomato", "plant=tomate") for path in PAGES),
    "{g}/log/new?kind=rain", "{g}/log/new?kind=note", "{g}/print/place/{p}", "{g}/setup/garden", "{g}/setup/supply", "{g}/setup/history",
    "{g}/setup/weather-file", "{g}/setup/place/new", "{g}/setup/place/{p}", "{g}/setup/place/{p}/sun", "{g}/setup/place/{p}/planting/new",
    "{g}/setup/soil/new", "{g}/setup/line/new", "{g}/place/none", "/gardens/new", "/gardens/bring", "/soils/find", "/soils/texture/loam",
    "/soils/mix/coir", "/soils/mulch/straw", "/weather-file", "/ask?where=Nowhereton&plant=tomate", "/ask?where=Lyon&plant=zzz",
]  # fmt: skip


@pytest.mark.parametrize("path", SPANISH_PAGES)
def test_in_spanish(app: Running, chromium: Browser, path: str) -> None:
    page, wrong = opened(chromium, app, path, language="es", units="metric", decimal=",", dates="dmy")
    assert page.evaluate("document.documentElement.lang") == "es"
    page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    own = own_words(app)
    left = {text: found for text in page.evaluate(SEEN) if (found := english_in(text, own))}
    assert not left, f"English on {path}: {left}"
    page.set_viewport_size({"width": 320, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), f"{path} runs off at 320 px"
    assert not wrong
    page.context.close()
