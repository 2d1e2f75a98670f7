"""The pocket book, opened as a person does: in a browser, with and without scripts."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import html5lib
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, sync_playwright

import rigproof
from rigproof.checks.verdict import Verdict, check
from rigproof.rigfile.load import load
from rigproof.showbook.edition import READERS, Edition, Reader
from rigproof.showbook.papers import Order
from rigproof.showbook.pocket import pocket_book
from rigproof.wording.phrases import LANGUAGES, Language

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

DEMO = Path(rigproof.__file__).parent / "demo"
TRIO = Path(__file__).parents[2] / "examples/trio"
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
PHONE = ViewportSize(width=390, height=844)
DESK = ViewportSize(width=1280, height=900)


@pytest.fixture(scope="module")
def verdict() -> Verdict:
    return check(load(DEMO / "rig.yaml"))


@pytest.fixture(scope="module")
def html(verdict: Verdict) -> str:
    return pocket_book(Order(verdict=verdict)).html


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    program = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if program is None:
        pytest.skip("no Chromium on this machine: the pocket book was not opened in a browser")
    with sync_playwright() as play:
        found = play.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield found
        found.close()


def opened(context: BrowserContext, path: Path, html: str) -> tuple[Page, list[str]]:
    """The book on a screen, and whatever it asked of the network or complained of."""
    path.write_text(html, encoding="utf-8")
    page = context.new_page()
    trouble: list[str] = []
    page.on("console", lambda said: trouble.append(said.text))
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on(
        "request",
        lambda asked: (
            None if asked.url.startswith(("file:", "data:")) else trouble.append(asked.url)
        ),
    )
    page.goto(path.as_uri())
    return page, trouble


def elements(html: str) -> "Element":
    """The page by a strict parser: any fault of its markup is raised."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    found: Element = parser.parse(html)
    return found


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("reader", READERS)
@pytest.mark.published("HTML, the parsing rules of the living standard, by an independent parser")
def test_every_edition_is_valid_small_and_whole(
    verdict: Verdict, reader: Reader, language: Language
) -> None:
    html = pocket_book(
        Order(verdict=verdict, edition=Edition(reader=reader, language=language))
    ).html
    assert len(html.encode()) < 2_000_000
    tree = elements(html)
    anchors = [one.get("id") for one in tree.iter() if one.get("id")]
    assert len(set(anchors)) == len(anchors)
    ways = [str(one.get("href")) for one in tree.iter("a")]
    assert {way[1:] for way in ways if way.startswith("#")} <= set(anchors)
    assert [way for way in ways if not way.startswith(("#", "tel:"))] == []
    assert not re.search(r"""(?:src|href)=["']?(?:https?:|//|file:)""", html)
    rig = verdict.view.rig
    wanted = {f"source-{name}" for name in rig.sources} | {f"gear-{name}" for name in rig.gear}
    wanted |= {f"lead-{lead.id}" for lead in rig.file.leads}
    wanted |= {f"person-{name}" for name in rig.people}
    assert wanted <= set(anchors)


def test_nothing_private_for_strangers(verdict: Verdict, html: str) -> None:
    assert "own 0001" in html  # a serial number, in the band's own
    for reader in ("house", "deputy", "shop"):
        made = pocket_book(Order(verdict=verdict, edition=Edition(reader=reader))).html
        assert "own 0001" not in made
        people = verdict.view.rig.people
        # The contact's number is there to be called; nobody else's is.
        contact = verdict.view.rig.about.contact
        called = contact.phone if contact else ""
        assert not any(
            one.phone in made for one in people.values() if one.phone not in {"", called}
        )


def test_it_reads_with_scripts_off(browser: Browser, html: str, tmp_path: Path) -> None:
    context = browser.new_context(java_script_enabled=False, viewport=PHONE)
    page, trouble = opened(context, tmp_path / "book.html", html)
    assert page.locator("#finder").is_hidden()
    entry = page.locator("#source-kick")
    assert "Split A, in 1" in entry.inner_text()
    page.locator("#contents a", has_text="Leads").click()
    assert page.url.endswith("#leads")
    assert page.locator("#lead-tail-1").is_visible()
    assert trouble == []
    context.close()


@pytest.mark.parametrize(
    ("rig", "screen", "colours"), [(TRIO, PHONE, "light"), (TRIO, DESK, "dark")]
)
@pytest.mark.published("WCAG 2.2 levels A and AA, by the rules of axe-core")
def test_no_barriers(
    browser: Browser, tmp_path: Path, rig: Path, screen: ViewportSize, colours: Any
) -> None:
    html = pocket_book(Order(verdict=check(load(rig / "rig.yaml")))).html
    context = browser.new_context(viewport=screen, color_scheme=colours, bypass_csp=True)
    page, trouble = opened(context, tmp_path / "book.html", html)
    # A drawing is one picture with its description; what it is made of is nobody's business.
    found = Axe().run(page, context={"exclude": [[".drawing > svg"]]})
    faults = [(one["id"], one["nodes"][0]["html"][:120]) for one in found.response["violations"]]
    assert faults == []
    # Nothing is pushed off a phone's screen but what scrolls by itself.
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert trouble == []
    context.close()


def test_search_and_ticks(browser: Browser, html: str, tmp_path: Path) -> None:
    context = browser.new_context(viewport=PHONE)
    page, trouble = opened(context, tmp_path / "book.html", html)
    page.fill("#search", "accordion")
    assert page.locator("#source-accordion").is_visible()
    assert page.locator("#source-kick").is_hidden()
    assert page.locator("#hits").inner_text().isdigit()
    page.fill("#search", "zzzz")
    assert page.locator("#hits").inner_text() == "nothing found"
    page.fill("#search", "")
    assert page.locator("#source-kick").is_visible()
    box = page.locator("input[type=checkbox]").first
    box.check()
    line = page.locator("input[type=text]").first
    line.fill("no sound")
    page.reload()
    assert page.locator("input[type=checkbox]").first.is_checked()
    assert page.locator("input[type=text]").first.input_value() == "no sound"
    assert trouble == []
    context.close()


HOSTILE = (
    "<script>document.title='broken'</script>",
    "<img src=x onerror=document.title='broken'>",
    '"><svg onload="document.title=1">',
    "{{ 7 * 7 }} {% raw %}",
    "</style></script><!-- ",
    "javascript:alert(1)",
    "&lt;b&gt; &amp;",
    "\u202eright to left\u202c \u05e9\u05dc\u05d5\u05dd",
    "a" * 200,
    "e\u0301\u0323 \U0001f941",
    "=1+1",
    "../../etc/passwd",
)


def test_a_name_stays_a_name(browser: Browser, tmp_path: Path) -> None:
    """A hostile name for each of the first sources, boxes and people of the demo."""
    folder = tmp_path / "rig"
    shutil.copytree(DEMO, folder)
    text = (folder / "rig.yaml").read_text(encoding="utf-8")
    names = iter(HOSTILE * 3)

    def renamed(entry: re.Match[str]) -> str:
        name = next(names, None)
        if name is None:
            return entry[0]
        quoted = name.replace("\\", "\\\\").replace('"', '\\"')
        return f'{entry[1]}name: "{quoted}",'

    text = re.sub(r"(- \{id: [a-z0-9-]+, )name: [^,]+,", renamed, text)
    (folder / "rig.yaml").write_text(text, encoding="utf-8")
    verdict = check(load(folder / "rig.yaml"))
    html = pocket_book(Order(verdict=verdict)).html
    elements(html)
    context = browser.new_context(viewport=PHONE)
    page, trouble = opened(context, tmp_path / "book.html", html)
    assert page.title().endswith("Pocket book")
    rig = verdict.view.rig
    bad = 0
    for anchor, name in (
        *((f"source-{one.id}", one.name) for one in rig.file.sources),
        *((f"person-{one.id}", one.name) for one in rig.file.people),
    ):
        shown = " ".join(page.locator(f"#{anchor} h3").inner_text().split())
        assert shown.startswith(" ".join(name.split())), anchor
        bad += name in HOSTILE
    assert bad > len(HOSTILE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert trouble == []
    context.close()
