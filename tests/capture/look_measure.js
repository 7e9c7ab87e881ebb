// Measures the screen as it stands against look.md: given {main, other, gap, text, value, contrast, edge, reach} as the least in
// pixels or as ratios, gives one sentence for each fault. Contrast: WCAG 2.2's formula over relative luminance.
(least) => {
  // A PIN is entered by keys of the lesser size: the choice is what is done with it.
  const MAIN = ".answer, .key:not(.pin-pad *), .purpose, .cart-row, .main-choice";
  const VALUES = ".large, .fleet-number, .entered, .unit, .outcome h1, .cart-head h1, .pass-note:not(.bar *)";
  const TARGETS = "button, input:not([type=file]), textarea, a[href], canvas";
  const page = document.getElementById("page");
  const faults = [];
  const seen = (one) =>
    one.getClientRects().length > 0 && getComputedStyle(one).visibility === "visible" && !one.closest(".heard-only");
  const name = (one) => {
    const words = (one.getAttribute("aria-label") || one.textContent || one.id).trim().replace(/\s+/g, " ");
    return `${one.localName}.${[...one.classList].join(".")} “${words.slice(0, 40)}”`;
  };
  const fault = (one, sentence) => faults.push(`${name(one)} ${sentence}`);
  const px = (number) => Math.round(number * 10) / 10;

  const channels = (colour) => colour.match(/[\d.]+/g).map(Number);
  const luminance = (colour) => {
    const [red, green, blue] = channels(colour).map((part) => {
      const share = part / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  };
  const contrast = (one, other) => {
    const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b);
    return (high + 0.05) / (low + 0.05);
  };
  const isClear = (colour) => (channels(colour)[3] ?? 1) === 0;
  // The first ground behind an element that is painted at all.
  const ground = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if (!isClear(colour)) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  const shade = (one) => {
    let share = 1;
    for (let at = one; at; at = at.parentElement) share *= Number(getComputedStyle(at).opacity);
    return share;
  };

  function letters(one, size) {
    const style = getComputedStyle(one);
    const wanted = one.closest(VALUES) ? least.value : least.text;
    if (size < wanted - 0.01) fault(one, `has letters of ${px(size)} px, wants ${wanted}`);
    const ratio = contrast(style.color, ground(one));
    if (ratio < least.contrast) fault(one, `has contrast ${ratio.toFixed(2)}, wants ${least.contrast}`);
    if (shade(one) < 1) fault(one, "is faded");
  }

  function words() {
    const walker = document.createTreeWalker(page, NodeFilter.SHOW_TEXT);
    const judged = new Set();
    while (walker.nextNode()) {
      const text = walker.currentNode;
      const one = text.parentElement;
      if (!text.data.trim() || one.closest("svg, noscript") || !seen(one)) continue;
      const range = document.createRange();
      range.selectNodeContents(text);
      const frame = one.closest("button, a, .bar")?.getBoundingClientRect();
      for (const box of range.getClientRects()) {
        if (box.left < -1 || box.right > innerWidth + 1) fault(one, "runs off the glass");
        const isOut = frame && (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1 ||
          box.bottom > frame.bottom + 1);
        if (isOut) fault(one, "stands out of its frame");
      }
      if (!judged.has(one)) letters(one, parseFloat(getComputedStyle(one).fontSize));
      judged.add(one);
    }
    for (const one of page.querySelectorAll("input:not([type=file]), textarea")) {
      if (seen(one)) letters(one, parseFloat(getComputedStyle(one).fontSize));
    }
    for (const one of page.querySelectorAll("button, a, p, h1, h2, h3, .label, span, li")) {
      const hides = getComputedStyle(one).overflowX !== "visible";
      if (seen(one) && hides && one.scrollWidth > one.clientWidth + 1) fault(one, "is cut off");
    }
  }

  // What sticks to the foot lies over the page: only targets that lie in one plane are neighbours.
  const plane = (one) => one.closest(".foot, .answers, .bar") ?? page;

  function targets() {
    const all = [...page.querySelectorAll(TARGETS)].filter(seen).map((one) => [one, one.getBoundingClientRect()]);
    for (const [one, box] of all) {
      const short = Math.min(box.width, box.height);
      const wanted = one.matches(MAIN) ? least.main : least.other;
      if (short < wanted - 0.05) fault(one, `is ${px(short)} px, wants ${wanted}`);
      const { borderTopColor, borderTopWidth } = getComputedStyle(one);
      const edge = contrast(borderTopColor, ground(one.parentElement));
      const painted = contrast(ground(one), ground(one.parentElement));
      if (parseFloat(borderTopWidth) && Math.max(edge, painted) < least.edge) fault(one, `has an edge of ${edge.toFixed(2)}`);
    }
    for (const [index, [one, a]] of all.entries()) {
      for (const [other, b] of all.slice(index + 1)) {
        if (plane(one) !== plane(other)) continue;
        const across = Math.max(b.left - a.right, a.left - b.right);
        const down = Math.max(b.top - a.bottom, a.top - b.bottom);
        const gap = Math.max(across, down);
        if (gap < least.gap - 0.05) fault(one, `lies ${px(gap)} px from ${name(other)}, wants ${least.gap}`);
      }
    }
  }

  // Whoever holds a tablet by its edges reaches the answers there, and in its lower half.
  function reach() {
    if (!page.classList.contains("screen-check") || page.classList.contains("with-pad")) return;
    const boxes = [...page.querySelectorAll(".answers .answer")].map((one) => one.getBoundingClientRect());
    if (boxes.some((box) => box.top < innerHeight / 2)) faults.push("an answer lies in the upper half");
    const edges = [Math.min(...boxes.map((box) => box.left)), innerWidth - Math.max(...boxes.map((box) => box.right))];
    // Before a photo that is wanted there is little to answer, and that at the holding hand alone.
    if (page.querySelector(".answer-good") && Math.max(...edges) > 32) faults.push(`the answers begin ${edges.map(px)} px from the edges`);
  }

  const wide = document.documentElement.scrollWidth - innerWidth;
  if (wide > 0) faults.push(`the page is ${wide} px wider than the glass`);
  words();
  targets();
  if (least.reach) reach();
  return [...new Set(faults)];
}
