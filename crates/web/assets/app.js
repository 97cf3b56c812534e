// Makes the pages nicer to use; every page is readable without it.
"use strict";

// The read-out under a usual day: a line follows the pointer, words say what it stands on.
for (const figure of document.querySelectorAll("figure.readable")) readOut(figure);

function readOut(figure) {
  const points = pointsOf(figure.dataset.points, figure.dataset.unit === "mg/dL" ? 0 : 1);
  const output = figure.querySelector("output");
  if (points.length === 0 || !output) return;
  let chosen = 0;

  for (const picture of figure.querySelectorAll("svg.usual-day")) {
    const night = picture.querySelector(".night");
    const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
    line.setAttribute("class", "cursor");
    line.setAttribute("visibility", "hidden");
    picture.append(line);
    // The night ends where the plot does; the clock labels begin where it begins.
    const right = Number(night.getAttribute("x")) + Number(night.getAttribute("width"));
    const left = right - 4 * Number(night.getAttribute("width"));
    const top = Number(night.getAttribute("y"));
    const height = Number(night.getAttribute("height"));

    const show = (index) => {
      chosen = Math.max(0, Math.min(points.length - 1, index));
      const x = left + ((right - left) * (chosen + 0.5)) / points.length;
      line.setAttribute("d", `M${x.toFixed(1)} ${top}v${height}`);
      line.setAttribute("visibility", "visible");
      output.textContent = readOutWords(points[chosen], figure.dataset.unit);
    };
    const follow = (event) => {
      const box = picture.getBoundingClientRect();
      const x = ((event.clientX - box.left) / box.width) * picture.viewBox.baseVal.width;
      show(Math.floor(((x - left) / (right - left)) * points.length));
    };
    picture.addEventListener("pointermove", follow);
    picture.addEventListener("pointerdown", follow);
    picture.addEventListener("pointerleave", () => {
      line.setAttribute("visibility", "hidden");
      output.textContent = "";
    });
    picture.setAttribute("tabindex", "0");
    picture.addEventListener("keydown", (event) => {
      const steps = { ArrowLeft: -1, ArrowRight: 1, PageDown: 12, PageUp: -12 };
      if (!(event.key in steps)) return;
      event.preventDefault();
      show(chosen + steps[event.key]);
    });
  }
}

// Each point is told against the one before it, each percentile against the last one given, in its last decimal.
function pointsOf(text, decimals) {
  let minute = 0, days = "";
  return text.split(";").filter(Boolean).map((row) => {
    const [ownMinute, ownDays, ...steps] = row.split(",");
    minute = ownMinute === "" ? (minute + 5) % 1440 : Number(ownMinute);
    days = ownDays === "" ? days : ownDays;
    let places = 0;
    const [p5, p25, p50, p75, p95] = steps.map((step) => {
      if (step === "-") return "";
      places += Number(step);
      return (places / 10 ** decimals).toFixed(decimals);
    });
    return { minute, days, p5, p25, p50, p75, p95 };
  });
}

function readOutWords(point, unit) {
  const clock = `${String(Math.floor(point.minute / 60)).padStart(2, "0")}:${String(point.minute % 60).padStart(2, "0")}`;
  const days = point.days === "1" ? "1 day" : `${point.days} days`;
  if (point.p50 === "") return `${clock}: too few days (${days})`;
  const tails = point.p5 === "" ? "" : `, nine tenths between ${point.p5} and ${point.p95}`;
  return `${clock}: median ${point.p50} ${unit}, half between ${point.p25} and ${point.p75}${tails}, ${days}`;
}

// A file dropped on the form is the file chosen; either way it is looked at without another press.
for (const form of document.querySelectorAll("form.drop")) takeDrops(form);

function takeDrops(form) {
  const input = form.querySelector("input[type=file]");
  const over = (event) => {
    event.preventDefault();
    form.classList.toggle("over", event.type === "dragover");
  };
  for (const type of ["dragover", "dragleave"]) form.addEventListener(type, over);
  form.addEventListener("drop", (event) => {
    over(event);
    if (event.dataTransfer.files.length === 0) return;
    input.files = event.dataTransfer.files;
    form.requestSubmit();
  });
  input.addEventListener("change", () => form.requestSubmit());
}
