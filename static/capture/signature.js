// A name drawn with a finger, kept as the strokes themselves: where the finger was and when.

const STEP_PX = 2;
const MOST_POINTS = 4000;

/**
 * A drawing pad. `onChange` is called after each stroke. Gives {element, clear}, and the strokes reach `onChange` as
 * [[[x, y, t_ms], ...], ...] in whole CSS pixels from the top left corner and whole milliseconds from the first touch.
 */
export function signaturePad({ label, onChange, strokes: earlier = [] }) {
  const canvas = document.createElement("canvas");
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", label);
  // The drawing follows its frame and never the other way round, or each redraw would make it grow.
  const frame = document.createElement("div");
  frame.className = "pad";
  frame.append(canvas);
  let strokes = earlier;
  let begun = null;
  let current = null;

  function draw() {
    const scale = window.devicePixelRatio || 1;
    const { width, height } = canvas.getBoundingClientRect();
    canvas.width = Math.round(width * scale);
    canvas.height = Math.round(height * scale);
    const pen = canvas.getContext("2d");
    pen.scale(scale, scale);
    pen.lineWidth = 3;
    pen.lineCap = "round";
    pen.lineJoin = "round";
    pen.strokeStyle = getComputedStyle(canvas).color;
    for (const stroke of strokes) {
      pen.beginPath();
      stroke.forEach(([x, y], index) => (index ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (stroke.length === 1) pen.lineTo(stroke[0][0] + 0.1, stroke[0][1]);
      pen.stroke();
    }
  }

  function pointOf(event) {
    const box = canvas.getBoundingClientRect();
    begun ??= event.timeStamp;
    const within = (value, most) => Math.round(Math.min(Math.max(value, 0), most));
    return [
      within(event.clientX - box.left, box.width),
      within(event.clientY - box.top, box.height),
      Math.round(event.timeStamp - begun),
    ];
  }

  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    current = [pointOf(event)];
    strokes = [...strokes, current];
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
    if (!current) return;
    current = null;
    onChange(strokes);
  };
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  new ResizeObserver(draw).observe(canvas);

  return {
    element: frame,
    clear() {
      strokes = [];
      begun = null;
      draw();
      onChange(strokes);
    },
  };
}
