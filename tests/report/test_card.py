"""Cut cards read back from the PDF: what a pruner finds on paper."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from limbwright.errors import InputError
from limbwright.report.card import card_png, cut_cards

HOSTILE = (
    '#panic("x") #read("data.json")',
    "$x^2$ *bold* _it_ `raw` @ref <label>",
    "[unclosed ( {",
    "\\ // /* %%",
    "</svg><script>&amp;",
    "W" * 200,
    "very " * 40,
    "老果园 七号",
    "apple 🍎🌳",
    "Ä ö ß é ř",
)


def squeezed(text: str) -> str:
    """Letters and signs without blanks and hyphens: lines break where they must."""
    return re.sub(r"[\s\u00ad\u2010-]+", "", text)


def pages(path: Path) -> list[str]:
    return [page.extract_text() for page in PdfReader(path).pages]


def renamed(item, tree: str):
    assessment, plan, station = item
    skeleton = replace(assessment.skeleton, tree=tree)
    return replace(assessment, skeleton=skeleton), replace(plan, tree=tree), station


def sides(path: Path, items) -> dict[str, list[str]]:
    """Pages of each tree: its own name stands at the head of every one."""
    found: dict[str, list[str]] = {}
    for text in pages(path):
        head = squeezed(text)[:400]
        names = [i[1].tree for i in items if squeezed(i[1].tree) in head]
        if text.strip():
            found.setdefault(max(names, key=len), []).append(text)
    return found


@pytest.mark.parametrize("page", ["a5", "a4"])
def test_every_cut_is_on_its_card_with_limb_size_and_reason(items, tmp_path: Path, page) -> None:
    path = cut_cards(items, tmp_path / "cards.pdf", holding="Hollow Farm", page=page)
    cards = sides(path, items)
    assert set(cards) == {plan.tree for _, plan, _ in items}
    for _, plan, _ in items:
        front, whole = cards[plan.tree][0], squeezed(" ".join(cards[plan.tree]))
        orders = front if page == "a4" else "\n".join(cards[plan.tree])
        for cut in plan.cuts:
            assert re.search(rf"(?m)^\s*{cut.order}\b", orders), f"no number {cut.order}"
            assert f"limb{squeezed(cut.limb)}" in squeezed(orders)
            assert f"{cut.height_m:.1f}mup" in squeezed(orders) or cut.height_m < 0.05
            # the card may say the limb once for both the order and its reason
            because = cut.reason.split(": ", 1)[-1].rstrip(".")
            assert squeezed(because)[1:] in (squeezed(front) if page == "a4" else whole)
        for limb, why in plan.keep:
            assert squeezed(f"Limb {limb}: {why}") in whole
        for caution in plan.cautions:
            assert squeezed(caution) in whole
        assert squeezed(plan.certificate) in whole
        assert squeezed(plan.window) in whole
        assert "HollowFarm" in whole


def test_each_tree_begins_on_a_sheet_of_its_own(items, tmp_path: Path) -> None:
    path = cut_cards(items, tmp_path / "cards.pdf", page="a5")
    owner = []
    for text in pages(path):
        head = squeezed(text)[:200]
        owner.append([n for n, i in enumerate(items) if squeezed(i[1].tree) in head])
    assert all(len(one) <= 1 for one in owner)
    for n in range(len(items)):
        at = [k for k, one in enumerate(owner) if one == [n]]
        assert at == list(range(at[0], at[0] + len(at)))
        assert at[0] % 2 == 0, "the back of another card is its front"


def test_one_tree_alone_is_the_front_and_the_back(items, tmp_path: Path) -> None:
    path = cut_cards(items[:1], tmp_path / "card.pdf", page="a5", marked="invented example")
    box = PdfReader(path).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((419.53, 595.28), abs=0.1)
    assert len(pages(path)) == 2
    assert all("INVENTED EXAMPLE" in text for text in pages(path))


@pytest.mark.parametrize("name", HOSTILE, ids=lambda n: ascii(n)[:18])
def test_whatever_is_written_on_a_station_is_printed_as_it_stands(items, tmp_path, name) -> None:
    item = renamed(items[0], name)
    assessment, plan, station = item
    plan = replace(plan, keep=((name, name),), cautions=(name,), season=name)
    path = cut_cards(
        [(assessment, plan, replace(station, cultivar=name))], tmp_path / "card.pdf", holding=name
    )
    front = squeezed(pages(path)[0])
    wanted = squeezed(name)
    if all(ord(c) < 0x2000 for c in name):
        assert wanted in front
    else:  # letters that no typeface here may have still leave the rest of the card whole
        assert all(c in front for c in wanted if ord(c) < 0x2000)
    assert "Cuts,inworkingorder" in front


def test_a_limb_with_a_hostile_name_is_printed_as_it_stands(items, tmp_path: Path) -> None:
    assessment, plan, station = items[0]
    odd = '#a[$<b>&"'
    first = replace(plan.cuts[0], limb=odd, reason=f"Limb {odd} rubs its neighbour.")
    plan = replace(plan, cuts=(first, *plan.cuts[1:]))
    whole = squeezed(" ".join(pages(cut_cards([(assessment, plan, station)], tmp_path / "c.pdf"))))
    assert f"limb{odd}" in whole
    assert f"Limb{odd}rubsitsneighbour." in whole


def test_control_and_direction_characters_do_not_reach_the_card(items, tmp_path: Path) -> None:
    item = renamed(items[0], "A\u202eB\x00C\nD")
    text = pages(cut_cards([item], tmp_path / "c.pdf"))[0]
    assert "\u202e" not in text
    assert "\x00" not in text
    assert "ABCD" in squeezed(text)


def test_the_same_plans_give_the_same_bytes(items, tmp_path: Path) -> None:
    one = cut_cards(items[:2], tmp_path / "one.pdf", holding="H").read_bytes()
    assert cut_cards(items[:2], tmp_path / "two.pdf", holding="H").read_bytes() == one


def test_a_failure_leaves_the_old_cards_and_no_half_ones(items, tmp_path, monkeypatch) -> None:
    path = tmp_path / "cards.pdf"
    path.write_bytes(b"old")

    def refuse(*_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OSError, match="no room"):
        cut_cards(items[:1], path)
    assert [p.name for p in tmp_path.iterdir()] == ["cards.pdf"]
    assert path.read_bytes() == b"old"


def test_no_trees_or_an_unknown_page_is_told(items, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no planned trees"):
        cut_cards([], tmp_path / "cards.pdf")
    with pytest.raises(InputError, match="a3"):
        cut_cards(items, tmp_path / "cards.pdf", page="a3")
    assert list(tmp_path.iterdir()) == []


def test_both_sides_of_a_card_can_be_had_as_pictures(items, tmp_path: Path) -> None:
    front = card_png(items[0], tmp_path / "f.png", page="a5", ppi=60).read_bytes()
    back = card_png(items[0], tmp_path / "b.png", page="a5", side="back", ppi=60).read_bytes()
    assert front[:8] == back[:8] == b"\x89PNG\r\n\x1a\n"
    assert front != back


def test_no_card_calls_a_tree_safe(items, tmp_path: Path) -> None:
    text = " ".join(pages(cut_cards(items, tmp_path / "cards.pdf"))).lower()
    assert not re.search(r"\bsafe\b", text)


def test_cards_set_in_batches_read_like_cards_set_at_once(items, tmp_path, monkeypatch) -> None:
    at_once = cut_cards(items, tmp_path / "one.pdf", holding="H")
    monkeypatch.setattr("limbwright.report.card.AT_ONCE", 2)
    monkeypatch.setattr("limbwright.report.batches.BATCH", 2)
    told: list[int] = []
    batched = cut_cards(
        items, tmp_path / "two.pdf", holding="H", on_progress=lambda done, _: told.append(done)
    )
    assert pages(batched) == pages(at_once)
    assert told[-1] == len(items)


@pytest.mark.parametrize("page", ["a4", "a5"])
def test_a_card_tells_light_and_hats_before_and_after(items, tmp_path: Path, page) -> None:
    for item in items:
        plan = item[1]
        whole = squeezed(" ".join(pages(cut_cards([item], tmp_path / "c.pdf", page=page))))
        light = re.search(r"Lightonitsleaf(\d+)%offullsun;then(?:(\d+)%|asbefore)", whole)
        hats = re.search(r"Of100hatsthrownthrough,(\d+)pass;then(\d+|asbefore)", whole)
        assert light, whole[:300]
        assert hats
        told = (light[1], light[2] or light[1], hats[1], hats[2].replace("asbefore", hats[1]))
        real = (plan.light_before.mean, plan.light_after.mean)
        real = (*real, plan.light_before.hat, plan.light_after.hat)
        assert [int(t) / 100 for t in told] == pytest.approx(real, abs=0.0051)


def test_light_that_does_not_change_is_told_as_before_and_none_is_not_told(items, tmp_path) -> None:
    assessment, plan, station = items[0]
    same = replace(plan, light_after=replace(plan.light_before, mean=plan.light_before.mean + 1e-4))
    whole = squeezed(" ".join(pages(cut_cards([(assessment, same, station)], tmp_path / "c.pdf"))))
    assert "offullsun;thenasbefore" in whole
    assert "pass;thenasbefore" in whole
    nothing = replace(plan.light_before, mean=float("nan"), hat=float("nan"))
    bare = replace(plan, light_after=nothing)
    whole = squeezed(" ".join(pages(cut_cards([(assessment, bare, station)], tmp_path / "c.pdf"))))
    assert "Lightonitsleaf" not in whole
    assert "100hats" not in whole


def test_a_tree_without_cuts_tells_its_light_once(items, tmp_path: Path) -> None:
    assessment, plan, station = items[0]
    none = replace(plan, cuts=(), light_after=plan.light_before)
    whole = squeezed(" ".join(pages(cut_cards([(assessment, none, station)], tmp_path / "c.pdf"))))
    assert re.search(r"Lightonitsleaf\d+%offullsunOf100hatsthrownthrough,\d+pass(?!;)", whole)
