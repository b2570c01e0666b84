"""The words, tables and pictures of a yearly report."""

from __future__ import annotations

import re
from typing import Any

from limbwright.form.words import side as compass_side
from limbwright.learn.compared import Compared
from limbwright.learn.done import CutOutcome
from limbwright.model.work import Photo
from limbwright.report.book import photo_share, shown_photo
from limbwright.report.book_plan import report_foot
from limbwright.report.book_trees import who_is
from limbwright.report.book_words import (
    NOT_KNOWN,
    and_list,
    counted,
    day_words,
    figure,
    hours_words,
    money_words,
    percent,
    places,
    sentence,
    unmarked,
)
from limbwright.report.book_works import season_key
from limbwright.report.done_bars import Bar, done_bars
from limbwright.report.year_done import TreeYear, YearlyReport

__all__ = ["year_data"]

BARS_A_CHART = 24
"""Rows of one chart; judgement: three quarters of a page."""
CHART_MM = 190.0
MOST_COMPARED = 24
"""Forecasts printed beside their finds, if no more lie outside their range; judgement."""
DONE_WORDS = {
    "made": "Made",
    "otherwise": "Made otherwise",
    "not made": "Not made",
    "besides": "Made besides",
    "not told": "Not told",
}


def year_data(year: YearlyReport) -> tuple[dict[str, Any], dict[str, str | bytes]]:
    """Return all words and figures of the report, and its pictures by file name."""
    report = year.report
    pictures: dict[str, str | bytes] = {}
    shown = _shown(year.compared)
    blocks = [_tree(year, one, number, pictures) for number, one in enumerate(year.trees, 1)]
    data = {
        "holding": report.holding.name or "The holding",
        "title": f"report of the year to {day_words(year.last)}",
        "marked": report.holding.marked,
        "foot": report_foot(report),
        "period": f"Work from {day_words(year.first)} to {day_words(year.last)}",
        "facts": _facts(year),
        "sums": _sums(year),
        "charts": _charts(year, pictures),
        "trees": blocks,
        "missed": places(year.missed),
        "compared": [_compared_row(one) for one in shown],
        "compared_rest": f"And {len(year.compared) - len(shown)} more, all within the range; the "
        "workbook lists them."
        if len(shown) < len(year.compared)
        else "",
        "calibrations": _calibrations(year),
        "lost": [
            f"{r.tree}: {counted(len(r.limbs_lost), 'limb')} lost ({and_list(r.limbs_lost)}), seen "
            f"on {day_words(r.seen_on)}. {sentence(unmarked(r.note, report.holding.marked))}"
            for r in year.responses
            if r.limbs_lost
        ],
        "changed": _conditions(year),
        "looked": counted(len({r.tree for r in year.responses}), "tree"),
        "next": _next(year),
    }
    return data, pictures


def _facts(year: YearlyReport) -> list[list[str]]:
    report = year.report
    facts = [["Holding", report.holding.name], ["Owner", report.holding.owner or NOT_KNOWN]]
    if report.scheme:
        dated = f" (terms of {report.scheme_dated})" if report.scheme_dated else ""
        facts.append(["Scheme", report.scheme + dated])
    worked = {t.work.tree for t in year.trees}
    # one who worked alone and in a crew is named once
    crews = dict.fromkeys(
        name.strip()
        for who in sorted({t.work.who for t in year.trees if t.work.who})
        for name in re.split(r",|;|\band\b", who)
        if name.strip()
    )
    facts.append(["Trees worked on", f"{len(worked)} of {len(report.stations)} stations"])
    if crews:
        facts.append(["By", and_list(crews)])
    if year.planted:
        facts.append(["Planted", f"{len(year.planted)}: {places(s.tree for s in year.planted)}"])
    _, done, noted = year.hours
    if noted:
        hours = f"{done:.1f} person-hours noted on {counted(noted, 'tree')}"
        if report.rate is not None:
            cost = f"{report.rate * done:,.0f}".replace(",", "\u202f")
            hours += (
                f", {report.currency} {cost} at {report.currency} {report.rate:g} an hour, the "
                "rate given for this report"
            )
        facts.append(["Hours", hours])
    return facts


def _sums(year: YearlyReport) -> list[list[str]]:
    """Return planned and done for the whole year."""
    made = year.outcomes
    planned_h, done_h, noted = year.hours
    doses = [t.work for t in year.trees if t.work.dose_planned is not None]
    taken = [w for w in doses if w.dose_taken is not None]
    wounds = [t.work for t in year.trees if t.work.wound_planned is not None]
    listed = made["made"] + made["otherwise"] + made["not made"]
    done = f"{made['made']} made, {made['otherwise']} otherwise, {made['not made']} not made"
    rows = [["Cuts", str(listed), f"{done}, {made['besides']} besides"]]
    if taken:
        rows.append(
            [
                f"Crown taken, mean of {counted(len(taken), 'tree')}",
                percent(sum(w.dose_planned or 0.0 for w in taken) / len(taken)),
                percent(sum(w.dose_taken or 0.0 for w in taken) / len(taken)),
            ]
        )
    told = [w for w in wounds if w.wound_made is not None]
    if told:
        rows.append(
            [
                f"Wounds over stem section, mean of {counted(len(told), 'tree')}",
                percent(sum(w.wound_planned or 0.0 for w in told) / len(told)),
                percent(sum(w.wound_made or 0.0 for w in told) / len(told)),
            ]
        )
    if noted:
        rows.append(
            [
                f"Person-hours for the cuts made, {counted(noted, 'tree')}",
                f"{planned_h:.1f}",
                f"{done_h:.1f}",
            ]
        )
    return rows


def _charts(year: YearlyReport, pictures: dict[str, str | bytes]) -> list[str]:
    hours = [
        Bar(t.work.tree, t.hours_planned if t.work.cuts else None, t.hours_done)
        for t in year.trees
        if t.work.cuts or t.hours_done is not None
    ]
    doses = [
        Bar(t.work.tree, _hundred(t.work.dose_planned), _hundred(t.work.dose_taken))
        for t in year.trees
        if t.work.dose_planned is not None
    ]
    files: list[str] = []
    for title, unit, bars in (
        ("Hours, brash included", "person-hours", hours),
        ("Crown taken", "%", doses),
    ):
        for at in range(0, len(bars), BARS_A_CHART):
            file = f"chart-{len(files) + 1}.svg"
            part = bars[at : at + BARS_A_CHART]
            pictures[file] = done_bars(title, unit, part, width_mm=CHART_MM)
            files.append(file)
    return files


def _hundred(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


def _tree(
    year: YearlyReport, one: TreeYear, number: int, pictures: dict[str, str | bytes]
) -> dict[str, Any]:
    work = one.work
    days = and_list(dict.fromkeys(day_words(v.done_on) for v in one.visits))
    heads = [work.season, days, work.who]
    photos = [
        _photo(year, photo, side, f"{number:05d}-{side}.png", pictures)
        for side, photo in (("before", one.before), ("after", one.after))
    ]
    some = one.before is not None or one.after is not None
    mark = year.report.holding.marked
    found = [sentence(unmarked(v.found, mark)) for v in one.visits]
    notes = [sentence(unmarked(v.note, mark)) for v in one.visits]
    plan = work.dose_planned is not None
    return {
        "tree": work.tree,
        "who": "" if one.station is None else who_is(one.station),
        "head": " · ".join(word for word in heads if word),
        "rows": [
            [
                "Planned",
                percent(work.dose_planned),
                percent(work.wound_planned),
                f"{work.hours_planned:.1f}" if plan else NOT_KNOWN,
                f"{work.brash_planned:.1f}" if plan else NOT_KNOWN,
            ],
            [
                "Done",
                percent(work.dose_taken),
                percent(work.wound_made),
                _hours(work.hours),
                _hours(work.brash_hours),
            ],
        ],
        "cuts": _cuts(work.cuts, mark),
        "crown": _crown(one),
        "found": " ".join(w for w in found if w),
        "notes": " ".join(w for w in (*notes, *(sentence(n) for n in work.notes)) if w),
        "photos": photos if some else [],
        "no_photos": "" if some else "No photos of this work are kept.",
        "others": f"{counted(one.others, 'more photo')} kept with the records."
        if one.others
        else "",
    }


def _hours(hours: float | None) -> str:
    return "not noted" if hours is None else f"{hours:.1f}"


def _cuts(cuts: tuple[CutOutcome, ...], mark: str) -> list[str]:
    """Return cuts by how they came out: number, limb, and what was noted of it."""
    out = []
    for outcome, words in DONE_WORDS.items():
        mine = [c for c in cuts if c.outcome == outcome]
        if mine:
            out.append(f"{words}: " + "; ".join(_cut(c, mark) for c in mine) + ".")
    return out


def _cut(cut: CutOutcome, mark: str) -> str:
    number = f"{cut.order} " if cut.order else ""
    said = unmarked(cut.note, mark)
    note = f" ({said})" if said else ""
    return f"{number}{cut.cut} limb {cut.limb}{note}"


def _crown(one: TreeYear) -> str:
    crown = one.crown
    said = []
    if crown.height_m is not None or crown.spread_m is not None:
        said.append(f"as last walked {_metres(crown.height_m, crown.spread_m)}")
    if crown.foreseen_height_m is not None:
        after = _metres(crown.foreseen_height_m, crown.foreseen_spread_m)
        said.append(f"foreseen after the work planned {after}")
    return f"Crown left: {'; '.join(said)}." if said else "Crown left: not measured."


def _metres(height_m: float | None, spread_m: float | None) -> str:
    high = "height not taken" if height_m is None else f"{height_m:.1f} m high"
    wide = "spread not taken" if spread_m is None else f"{spread_m:.1f} m wide"
    return f"{high}, {wide}"


def _photo(
    year: YearlyReport,
    photo: Photo | None,
    side: str,
    file: str,
    pictures: dict[str, str | bytes],
) -> dict[str, str | float]:
    """Return one photo of a pair: its file where it can be shown, else what is wrong with it."""
    title = side.capitalize()
    if photo is None:
        return {"file": "", "words": f"{title}: no photo."}
    looking = ""
    if photo.bearing_deg is not None:
        looking = f", looking {compass_side(photo.bearing_deg)} ({photo.bearing_deg:.0f}°)"
    note = sentence(unmarked(photo.note, year.report.holding.marked))
    words = f"{title}, {day_words(photo.taken_on)}{looking}. {note}".strip()
    data = year.report.pictures.get((photo.tree, photo.file))
    if data is None:
        return {"file": "", "words": f"{words} The picture {photo.file} was not found."}
    shown = shown_photo(data)
    if shown is None:
        return {"file": "", "words": f"{words} The picture {photo.file} cannot be read."}
    pictures[file] = shown
    return {"file": file, "words": words, "share": photo_share(shown)}


def _shown(rows: tuple[Compared, ...]) -> list[Compared]:
    """Return the finds to be printed, the most surprising first: all outside their range."""
    ordered = sorted(rows, key=lambda c: (-abs(c.z), c.tree, c.what))
    outside = sum(not c.inside for c in ordered)
    return ordered[: max(outside, MOST_COMPARED)]


def _compared_row(one: Compared) -> list[str]:
    unit = f" {one.unit}" if one.unit else ""
    where = (
        "within" if one.inside else "more than foretold" if one.z > 0.0 else "less than foretold"
    )
    return [
        one.tree,
        one.what,
        f"{figure(one.value)}{unit} ({figure(one.low)} to {figure(one.high)})",
        f"{figure(one.found)}{unit}",
        where,
    ]


def _calibrations(year: YearlyReport) -> list[str]:
    looked = year.report.looked_back
    return [] if looked is None else [sentence(c.sentence) for c in looked.calibrations]


def _conditions(year: YearlyReport) -> list[str]:
    looked = year.report.looked_back
    rows = () if looked is None else looked.conditions
    return [
        f"{c.tree}: {c.before}, then {c.found}"
        for c in rows
        if c.before != c.found and year.holds(c.day)
    ]


def _next(year: YearlyReport) -> dict[str, Any]:
    report = year.report
    rows = []
    for season in sorted(set(report.first_season.values()), key=season_key):
        for work in year.next_works:
            if work.season == season:
                dose = percent(work.dose if work.dose is not None else work.dose_limit)
                rows.append(
                    [work.tree, season, work.what, dose, hours_words(work.hours, unit=False)]
                )
    said = f"{counted(len(rows), 'tree')}, {hours_words(year.next_hours)} of person-hours"
    if report.rate is not None:
        said += f", {money_words(year.next_hours, report.rate, report.currency)}"
    return {"rows": rows, "said": f"{said}."}
