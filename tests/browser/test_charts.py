"""Charts on a phone: every name of a line can be read, and so can the days below."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Browser

from tests.served import Running

# What two days of purchases give, a line for each category and measure, as a phone draws it.
DRAWN = """async (names) => {
    const rows = names.flatMap((name) =>
        ["2026-10-24", "2026-11-13", "2026-11-14"].map(
            (day) => `<tr><th>${day}</th><td>${name}</td><td data-value="1.5">$1.50</td></tr>`));
    const figure = document.createElement("figure");
    figure.innerHTML = `<table><thead><tr><th data-x>Day</th><th data-series>What</th><th data-y>Net</th></tr>
        </thead><tbody>${rows.join("")}</tbody></table>`;
    document.querySelector("main").append(figure);
    const { drawLineChart } = await import("/web/charts/line-chart.js");
    drawLineChart(figure);
    const { Chart } = await import("chart.js");
    const { chartArea, legend, scales } = Chart.getChart(figure.querySelector("canvas"));
    const last = legend.legendHitBoxes.at(-1);
    return {
        names: legend.legendItems.length,
        legend_ends: last.top + last.height,
        lines_begin: chartArea.top,
        lines_height: chartArea.height,
        days: scales.x.ticks.map((tick) => tick.label).filter(Boolean),
    };
}"""


def test_a_long_legend_stands_above_the_lines_and_leaves_them_room(
    chromium: Browser, running: Callable[..., Running]
) -> None:
    context = chromium.new_context(viewport={"width": 360, "height": 800})
    page = context.new_page()
    page.goto(f"{running().url}/desk")
    drawn = page.evaluate(DRAWN, [f"Category {n}, fl-oz, net per measure" for n in range(12)])

    assert drawn["names"] == 12
    assert drawn["legend_ends"] <= drawn["lines_begin"]
    assert drawn["lines_height"] > 150
    # The 13th and 14th would stand over each other.
    assert len([day for day in drawn["days"] if day in ("2026-11-13", "2026-11-14")]) == 1
    context.close()
