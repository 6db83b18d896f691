// Draws the line chart of a figure above its table. Shapes and dashes tell the lines apart as well as colours.
import { Chart, Legend, LinearScale, LineController, LineElement, PointElement, Tooltip } from "chart.js";
import { dayOf, rowsOf, seriesOf } from "./table-points.js";

Chart.register(Legend, LinearScale, LineController, LineElement, PointElement, Tooltip);

/** @type {readonly ("circle" | "rect" | "triangle" | "rectRot" | "star" | "cross")[]} */
const SHAPES = ["circle", "rect", "triangle", "rectRot", "star", "cross"];
const DASHES = [[], [6, 4], [2, 3], [10, 4], [8, 3, 2, 3], [4, 2]];
const ROOMY = 6; // so many names fit above the lines at the height of the style sheet
const LEGEND_LINE = 23; // pixels, with the space to the next
const COLOURS = 6; // --chart-1 to --chart-6 in the style sheet

/**
 * @param {HTMLElement} figure  A figure with data-chart="line" around a table (see README.md). Without two days
 *   there is nothing to draw.
 */
export function drawLineChart(figure) {
  const table = figure.querySelector("table");
  const series = table ? seriesOf(rowsOf(table)) : [];
  if (new Set(series.flatMap((each) => each.points.map((point) => point.x))).size < 2) return;

  const frame = document.createElement("div");
  frame.className = "chart";
  frame.setAttribute("aria-hidden", "true");
  const canvas = document.createElement("canvas");
  frame.append(canvas);
  // Chart.js gives a legend at most half of the height, and on a phone each name may need a line of its own.
  if (series.length > ROOMY) frame.style.height = `${series.length * 2 * LEGEND_LINE}px`;
  figure.querySelector("figcaption")?.after(frame);
  if (!frame.isConnected) figure.prepend(frame);

  let chart = draw(canvas, figure, series);
  // A canvas does not follow the style sheet by itself.
  for (const scheme of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)", "(forced-colors: active)"]) {
    matchMedia(scheme).addEventListener("change", () => {
      chart.destroy();
      chart = draw(canvas, figure, series);
    });
  }
}

/**
 * @param {HTMLCanvasElement} canvas
 * @param {HTMLElement} figure  Where the colours are read from.
 * @param {readonly import("./table-points.js").Series[]} series
 */
function draw(canvas, figure, series) {
  const style = getComputedStyle(figure);
  const colour = (/** @type {string} */ name) => style.getPropertyValue(name).trim();
  const [ink, line] = [colour("--ink"), colour("--line")];
  return new Chart(canvas, {
    type: "line",
    data: {
      datasets: series.map((each, n) => ({
        label: each.name,
        data: each.points,
        borderColor: colour(`--chart-${(n % COLOURS) + 1}`),
        backgroundColor: colour(`--chart-${(n % COLOURS) + 1}`),
        borderDash: DASHES[n % DASHES.length],
        borderWidth: 2,
        pointStyle: SHAPES[n % SHAPES.length],
        pointRadius: each.points.length > 80 ? 2 : 4,
      })),
    },
    options: {
      animation: false,
      maintainAspectRatio: false,
      parsing: false,
      normalized: true,
      color: ink,
      font: { family: style.fontFamily },
      interaction: { mode: "nearest", axis: "x", intersect: false },
      plugins: {
        legend: { display: series.length > 1, labels: { color: ink, usePointStyle: true, boxHeight: 6 } },
        tooltip: {
          callbacks: {
            title: (items) => (items[0] ? dayOf(items[0].parsed.x ?? 0) : ""),
            label: (item) => `${item.dataset.label ?? ""} ${/** @type {any} */ (item.raw).text}`.trim(),
          },
        },
      },
      scales: {
        x: {
          type: "linear",
          bounds: "data",
          ticks: { color: ink, maxTicksLimit: 4, includeBounds: false, maxRotation: 0, precision: 0, callback: (x, n, ticks) => (isCrowded(ticks, n) ? null : dayOf(Number(x))) },
          grid: { color: line },
        },
        y: { beginAtZero: true, ticks: { color: ink, maxTicksLimit: 6 }, grid: { color: line } },
      },
    },
  });
}

/**
 * Whether the next day on the axis stands so near that both would be written over each other.
 * @param {readonly import("chart.js").Tick[]} ticks @param {number} n
 */
function isCrowded(ticks, n) {
  const next = ticks[n + 1];
  return Boolean(next) && next.value - ticks[n].value < (ticks[ticks.length - 1].value - ticks[0].value) / 5;
}
