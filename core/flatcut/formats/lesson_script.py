"""What the page of a lesson does in a browser: it moves the paper of a step as the step moved it."""

SCRIPT = """
(() => {
  "use strict";
  const page = document.documentElement, steps = [...document.querySelectorAll("article")];
  const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  let pace = 1, running = 0;
  const SPAN = 1500, REST = 350;
  const moved = (turns, done) => turns.map(([x, y, degrees, dx, dy, over], k) => {
    const share = Math.min(Math.max(done - k, 0), 1);
    if (over !== undefined) return `translate(${x},${y}) rotate(${over}) `
      + `scale(1,${Math.cos(Math.PI * share).toFixed(6)}) rotate(${-over}) translate(${-x},${-y})`;
    return `translate(${share * dx},${share * dy}) rotate(${share * degrees},${x},${y})`;
  }).reverse().join(" ");
  const show = (step, share) => {
    const leaves = [...step.querySelectorAll(".leaf")];
    step.classList.toggle("playing", leaves.length > 0 && share < 1);
    for (const leaf of leaves) {
      const turns = JSON.parse(leaf.dataset.turns);
      leaf.setAttribute("transform", moved(turns, share * turns.length));
    }
    if (!leaves.length) for (const line of step.querySelectorAll(".new")) {
      if (share < 1) {
        line.setAttribute("pathLength", "1");
        line.style.strokeDasharray = "1"; line.style.strokeDashoffset = String(1 - share);
      } else {
        line.removeAttribute("pathLength"); line.style.strokeDashoffset = "";
        line.style.strokeDasharray = line.dataset.dashes;
      }
    }
    step.dataset.share = share.toFixed(3);
  };
  for (const line of document.querySelectorAll(".new")) line.dataset.dashes = line.style.strokeDasharray;
  const count = (step) => Math.max(1, ...[...step.querySelectorAll(".leaf")].map(
    (leaf) => JSON.parse(leaf.dataset.turns).length));
  const stop = () => { running += 1; for (const step of steps) if (step.dataset.share) show(step, 1); };
  const wait = (time) => new Promise((done) => setTimeout(done, time));
  const play = async (step) => {
    stop();
    const mine = running;
    if (!still) {
      show(step, 0);
      await wait(REST / pace);
      const start = performance.now(), span = SPAN * Math.min(count(step), 3) / pace;
      for (let share = 0; share < 1 && mine === running;) {
        await new Promise(requestAnimationFrame);
        share = Math.min((performance.now() - start) / span, 1);
        const smooth = share * share * (3 - 2 * share);
        if (mine === running) show(step, smooth);
      }
    } else { show(step, 1); await wait(REST / pace); }
    if (mine !== running) return false;
    show(step, 1);
    step.dataset.played = "yes";
    return true;
  };
  const here = () => Math.max(steps.indexOf(document.activeElement && document.activeElement.closest("article")), -1);
  const go = (k) => {
    const step = steps[Math.min(Math.max(k, 0), steps.length - 1)];
    if (step) { step.focus({preventScroll: true}); step.scrollIntoView({block: "start"}); }
    return step;
  };
  const all = async () => {
    for (let k = Math.max(here(), 0); k < steps.length; k += 1) if (!await play(go(k))) return;
    page.dataset.ended = "yes";
  };
  for (const step of steps) {
    const button = step.querySelector(".play");
    if (button) button.addEventListener("click", () => play(step));
  }
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const onButton = event.target.closest("button, summary");
    const key = event.key;
    if (key === "ArrowRight") go(here() + 1);
    else if (key === "ArrowLeft") go(here() - 1);
    else if (key === "a" || key === "A") all();
    else if (key === "Escape") stop();
    else if (key === "+") pace = Math.min(pace * 2, 64);
    else if (key === "-") pace = Math.max(pace / 2, 0.25);
    else if ((key === " " || key === "Enter") && !onButton && here() >= 0) play(steps[here()]);
    else return;
    event.preventDefault();
  });
  page.dataset.ready = "yes";
})();
"""
"""Plain, without libraries, and it asks for nothing from anywhere. Each part has its turns, one after the other: a
point, degrees and a shift each; half-way through a turn it has gone half the angle about that point. A sixth figure
are the degrees of a fold through the point: the part turns over it like a page."""
