"""The page of a check, read as a browser and a screen reader do: whole and by itself, no text of anybody's obeyed."""

import re
from html.parser import HTMLParser
from itertools import pairwise, product
from pathlib import Path

import pytest
from clockhop.assemble import words
from clockhop.chain import Asked, Chain, Request, judge, requests, run
from clockhop.cpu import load
from clockhop.quantity import parse_clock
from clockhop.report import Judged, check, mended, planned
from clockhop.report.page import html, page_of
from clockhop.report.page.colour import DAY, GROUNDS, INKS, NIGHT
from clockhop.source import parse

DEMO = Path(__file__).parents[2] / "examples_asm/belltower"
VOID = {"meta", "br", "col", "link", "img", "hr", "input"}


class Reader(HTMLParser):
    """The elements of a page in order, each with its attributes, its ancestors and the text in it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[int] = []
        self.elements: list[tuple[str, dict[str, str], list[str]]] = []
        self.texts: dict[int, str] = {}
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        names = [name for name, _ in attrs]
        assert len(set(names)) == len(names)
        self.elements.append((tag, dict(attrs), [self.elements[n][0] for n in self.open]))
        self.texts[len(self.elements) - 1] = ""
        if tag not in VOID:
            self.open.append(len(self.elements) - 1)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.elements[self.open.pop()][0] == tag

    def handle_data(self, data):
        for number in self.open:
            self.texts[number] += data

    def all(self, tag):
        return [(attrs, self.texts[n]) for n, (found, attrs, _) in enumerate(self.elements) if found == tag]


def made(*chains: Chain) -> str:
    plans = {chain: planned(chain) for chain in chains}
    judged = []
    for chain, plan in plans.items():
        verdicts = judge(chain).verdicts
        judged.append(Judged(chain, verdicts, 0, mended(chain, verdicts, plan)))
    return html(page_of(check(judged), list(plans.items())))


def chain_of(text: bytes, cpu: str = "6809") -> Chain:
    request = Request('tow"er.asm', cpu, (parse_clock("2 MHz"),), parse_clock("1 MHz"))
    return run(request, lambda path: parse(text, path, words(load(cpu))))


@pytest.fixture(scope="module")
def demo() -> str:
    """The page of the demo at twice its clock."""
    asked = Asked((str(DEMO / "main.asm"),), clocks=(parse_clock("1.8432 MHz"),))
    return made(*map(run, requests(asked)))


@pytest.fixture(scope="module")
def read(demo):
    return Reader(demo)


def test_it_needs_no_other_file_no_network_and_no_script(demo, read):
    assert {tag for tag, _, _ in read.elements} & {
        "script",
        "img",
        "iframe",
        "object",
        "base",
        "form",
    } == set()
    links = [attrs for _, attrs, _ in read.elements if attrs.keys() & {"href", "src", "srcset", "action"}]
    assert all(attrs["href"].startswith("#") for attrs in links)
    assert not any(name.startswith("on") for _, attrs, _ in read.elements for name in attrs)
    assert {found for found in re.findall(r"url\(([^)]*)\)", demo) if found[0] != "#"} == set()
    assert "@import" not in demo
    assert "http://" not in demo
    assert "https://" not in demo


def test_every_id_is_one_and_every_link_leads_to_one(read):
    ids = [attrs["id"] for _, attrs, _ in read.elements if "id" in attrs]
    assert len(set(ids)) == len(ids)
    wanted = {attrs["href"][1:] for attrs, _ in read.all("a")}
    for _, attrs, _ in read.elements:
        wanted |= set(attrs.get("aria-labelledby", "").split())
        wanted |= set(re.findall(r"url\(#([^)]*)\)", attrs.get("fill", "")))
    assert wanted <= set(ids)


def test_headings_landmarks_tables_and_pictures_can_be_read_out(read):
    assert read.elements[0][1] == {"lang": "en"}
    assert [len(read.all(tag)) for tag in ("h1", "header", "nav", "main", "footer", "title")][:5] == [1] * 5
    levels = [int(tag[1]) for tag, _, _ in read.elements if re.fullmatch("h[1-6]", tag)]
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    assert all(attrs.get("scope") in ("row", "col") for attrs, _ in read.all("th"))
    assert len(read.all("caption")) == len(read.all("table")) > 5
    for n, (tag, attrs, _) in enumerate(read.elements):
        if tag == "svg" and attrs.get("role") == "img":
            assert read.elements[n + 1][0] == "title"
            assert read.texts[n + 1]
        if "tabindex" in attrs:
            assert attrs["tabindex"] == "0"
            assert attrs["aria-label"]


def contrast(one: str, other: str) -> float:
    """As the accessibility guidelines of the web define it (WCAG 2.2, relative luminance)."""

    def light(colour):
        parts = (int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5))
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    high, low = sorted((light(one), light(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_words_stand_out_by_4_5_to_1_and_pictures_by_3_to_1_by_day_and_by_night():
    assert round(contrast("#000000", "#ffffff")) == 21
    for colours in (DAY, NIGHT):
        assert min(contrast(colours[i], colours[g]) for i, g in product(INKS, GROUNDS)) >= 4.5
        pictures = ("fill", "wave", "good", "error", "dim")
        assert min(contrast(colours[i], colours[g]) for i, g in product(pictures, ("page", "card"))) >= 3


def test_the_sentence_that_matters_comes_first(read):
    paragraphs = [said for attrs, said in read.all("p") if attrs.get("class") in ("lead", "more")]
    assert paragraphs == [
        "At 1.8432\u00a0MHz 6 faults. All that is known holds up to 921.6\u00a0kHz.",
        f"First to give: STRIKEL takes 27648 cycles ({DEMO}/bells.asm:35:9), above 921.6 kHz: its note states 30 ms.",
        f"Too slow below 100 kHz: 6809: a cycle of the bus ({DEMO}/main.asm): 68B09 is rated for at least 100 kHz.",
    ]


def test_a_waveform_says_in_words_what_it_draws(read):
    said = [text for _, text in read.all("desc")]
    assert (
        "PANELD is written, and written again 13 cycles, 7.05295 us at 1.8432 MHz, later; 9918 needs 8 us. "
        "In between: STA PANELD 5 cycles, LEAX -1,X 5 cycles, BNE PANFILL 3 cycles, STA PANELD 5 cycles."
    ) in said
    # STA 5 (in its fifth), BRA 3, LDB 2, eight turns of DISPG and the ninth, RTS 5, LDX 3, BSR 7, PAUSE 1997, ...
    (long,) = [text for text in said if "2090 cycles" in text]
    assert "DECB 2 cycles, DISPG 43 cycles, RTS 5 cycles" in long
    assert "BSR PAUSE 7 cycles, PAUSE 1997 cycles" in long


def test_a_margin_is_drawn_from_its_edge_to_the_clock_that_is_judged(read):
    rows = [n for n, (tag, a, _) in enumerate(read.elements) if tag == "svg" and a.get("class") == "stretch"]
    titles = [read.texts[n + 1] for n in rows]
    at = rows[titles.index("holds up to 1.625 MHz")]
    drawn = [
        attrs for tag, attrs, _ in read.elements[at : at + 12] if attrs.get("class") in ("held", "lacks")
    ]
    # The axis goes from a quarter of 921.6 kHz to four times 1.8432 MHz: five doublings; it holds log2(1.625/0.2304).
    assert [(attrs["x"], attrs["width"]) for attrs in drawn] == [("0.00%", "56.36%"), ("56.36%", "3.64%")]


def test_findings_stand_at_their_lines_with_the_cycles_beside(read):
    rows = [
        (attrs, text)
        for n, (tag, attrs, _) in enumerate(read.elements)
        if tag == "tr"
        for text in [read.texts[n]]
    ]
    at = next(n for n, (_, text) in enumerate(rows) if text.startswith("205PANFILL STA     PANELD"))
    assert rows[at + 1][1].startswith("✕ error access-too-soon: PANELD written every 13 cycles")
    assert any(text == "9984loop PANFILL, 5.41667 ms at 1.8432 MHz: 768 turns x 13 =" for _, text in rows)


def test_sums_of_memory_and_evidence_of_mends_are_there(read):
    text = read.texts[0]
    assert "chip enable path has 160.26 ns, AT28C256-15 needs 150 ns: 10.26 ns to spare" in text
    assert (
        "evidence: the pads change nothing, for all states; rests on the 6809 table, entered only as the text shows"
        in text
    )


def test_nothing_that_stands_in_a_source_becomes_markup_or_is_obeyed():
    text = (
        b"RING\tLDA #3 ; </style><script>alert('&')</script> \x1b]0;bell\x07 \x9b caf\xe9\n"
        b'HIT<b>\tDECA\n\tBNE HIT\n\tFROB "><img src=x onerror=alert(1)>\n\tRTS\n'
    )
    page = made(chain_of(text))
    found = Reader(page)
    assert not {"script", "img", "b>"} & {tag for tag, _, _ in found.elements}
    assert re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f]", page) is None
    assert "</style><script>alert('&')</script> \\x1b]0;bell\\x07 \\x9b café" in found.texts[0]
    assert any('tow"er.asm' in said for _, said in found.all("h1"))


def test_several_builds_have_their_parts_each_and_share_their_findings(tmp_path):
    (tmp_path / "clockhop.yaml").write_text(
        "processor: 6809\nwritten_for: 1 MHz\nbuilds:\n  day: {source: ring.asm, clocks: [1 MHz]}\n"
        "  night: {source: ring.asm, clocks: [2 MHz]}\n"
    )
    (tmp_path / "ring.asm").write_text(
        "RING LDX #25000 ; timing: takes 200 ms\nHOLD LEAX -1,X\n BNE HOLD\n RTS\n"
    )
    page = Reader(made(*map(run, requests(Asked((str(tmp_path / "ring.asm"),))))))
    leads = [said for attrs, said in page.all("p") if attrs.get("class") == "lead"]
    assert [lead.split(".")[0] for lead in leads] == [
        "day: At 1\u00a0MHz no fault is found",
        "night: At 2\u00a0MHz 1 fault",
    ]
    assert [said for _, said in page.all("h3")].count("build night") == 3


def test_a_build_with_too_many_findings_to_plan_for_says_so():
    chain = chain_of(b"RING LDX #25000\nHOLD LEAX -1,X\n BNE HOLD\n RTS\n")
    page = Reader(html(page_of(check([Judged(chain, judge(chain).verdicts, 0)]), [(chain, None)])))
    assert "Not planned for so many findings; clockhop mend does." in [said for _, said in page.all("p")]


def test_the_page_says_what_follows_the_clock_and_what_stays():
    (request,) = requests(Asked(sources=(str(DEMO / "main.asm"),), clocks=(parse_clock("1.8432 MHz"),)))
    page = Reader(made(run(request)))
    rows = [text for _, text in page.all("tr")]
    # 27658 cycles: 30.0109 ms at 0.9216 MHz, half of it at twice the clock.
    assert [row for row in rows if "striker from line 33" in row and "15.0054 ms" in row]
    stays = [text for _, text in page.all("li") if "stays" in text]
    assert any("serial bit rate stays 9600 baud at every bus clock" in text for text in stays)
