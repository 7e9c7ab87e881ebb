// A name drawn with a finger, pen or mouse, kept as strokes in a hidden field: [[[x, y, t_ms], ...], ...] in whole CSS pixels
// from the pad's top left corner and whole milliseconds from the first touch. The typed name needs no script at all.
(() => {
  "use strict";
  const STEP_PX = 2;
  const MOST_POINTS = 4000;

  // A page that comes back with a fault brings the drawing back with it.
  const kept = (value) => {
    try {
      return value ? JSON.parse(value) : [];
    } catch {
      return [];
    }
  };

  function pad(block) {
    if (block.dataset.signature) return;
    block.dataset.signature = "ready";
    const canvas = block.querySelector("[data-signature-pad]");
    const field = block.querySelector("[data-signature-strokes]");
    let strokes = kept(field.value);
    let current = null;
    let begun = null;

    const draw = () => {
      const scale = window.devicePixelRatio || 1;
      const { width, height } = canvas.getBoundingClientRect();
      canvas.width = Math.round(width * scale);
      canvas.height = Math.round(height * scale);
      const pen = canvas.getContext("2d");
      pen.scale(scale, scale);
      pen.lineWidth = 3;
      pen.lineCap = pen.lineJoin = "round";
      pen.strokeStyle = getComputedStyle(canvas).color;
      for (const stroke of strokes) {
        pen.beginPath();
        stroke.forEach(([x, y], index) => (index ? pen.lineTo(x, y) : pen.moveTo(x, y)));
        if (stroke.length === 1) pen.lineTo(stroke[0][0] + 0.1, stroke[0][1]);
        pen.stroke();
      }
    };
    const pointOf = (event) => {
      const box = canvas.getBoundingClientRect();
      begun ??= event.timeStamp;
      const within = (value, most) => Math.round(Math.min(Math.max(value, 0), most));
      return [
        within(event.clientX - box.left, box.width),
        within(event.clientY - box.top, box.height),
        Math.round(event.timeStamp - begun),
      ];
    };
    const keep = () => {
      field.value = strokes.length ? JSON.stringify(strokes) : "";
    };

    canvas.addEventListener("pointerdown", (event) => {
      if (event.button > 0) return;
      canvas.setPointerCapture(event.pointerId);
      current = [pointOf(event)];
      strokes.push(current);
      draw();
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!current || strokes.flat().length >= MOST_POINTS) return;
      const point = pointOf(event);
      const last = current[current.length - 1];
      if (Math.hypot(point[0] - last[0], point[1] - last[1]) < STEP_PX) return;
      current.push(point);
      draw();
    });
    const lift = () => {
      current = null;
      keep();
    };
    canvas.addEventListener("pointerup", lift);
    canvas.addEventListener("pointercancel", lift);
    block.querySelector("[data-signature-clear]").addEventListener("click", () => {
      strokes = [];
      begun = null;
      keep();
      draw();
    });
    new ResizeObserver(draw).observe(canvas);
    document.addEventListener("slake:look", draw);
  }

  document.documentElement.classList.add("has-script");
  const start = (root) => root.querySelectorAll("[data-signature]").forEach(pad);
  document.addEventListener("DOMContentLoaded", () => start(document));
  document.addEventListener("htmx:load", (event) => start(event.detail.elt));
})();
