// Taking photos and showing those taken. The camera is the tablet's own, reached through a file button.

import { button, h, mark } from "../dom.js";
import { UnusablePicture, prepare } from "../pictures.js";

/** Told when more photos were taken than go with one answer. */
export const TOO_MANY_PHOTOS = "Twelve photos are the most for one check. The last ones are not kept.";

/**
 * A camera button and the photos so far. `hashes` are those kept; `taken(hashes)` is called with what was newly kept,
 * `removed(hash)` when one is taken away, `trouble(sentence)` when a picture could not be used: it changes nothing.
 */
export function photoStrip(app, { hashes, taken, removed, trouble, label = "Take a photo" }) {
  const told = h("p.photo-told", { role: "status" });
  const input = h("input.camera-input", {
    type: "file",
    id: "camera",
    accept: "image/*",
    capture: "environment",
    multiple: true,
    tabindex: "-1",
    "aria-hidden": "true",
  });
  const click = () => {
    app.camera_open = true;
    input.click();
  };
  const finish = () => {
    app.camera_open = false;
  };
  input.addEventListener("cancel", finish);
  input.addEventListener("change", async () => {
    finish();
    told.textContent = "Keeping the photo.";
    const { kept, sentence } = await keepAll(app, [...input.files]);
    told.textContent = "";
    if (kept.length) await taken(kept);
    if (sentence) trouble(sentence);
  });
  const open = button(label, { id: "take", class: "main-choice camera", click }, mark("camera"));
  return h("div.photo-strip", open, input, hashes.map((hash, index) => thumb(app, hash, index, removed)), told);
}

async function keepAll(app, files) {
  const kept = [];
  let sentence = "";
  for (const file of files) {
    try {
      kept.push(await app.keepPhoto(await prepare(file)));
    } catch (error) {
      sentence = error instanceof UnusablePicture ? error.message : "That photo is not kept. Take it again.";
    }
  }
  return { kept, sentence };
}

/** A photo as the store has it. */
export function picture(app, hash, index) {
  const shown = h("img", { alt: `Photo ${index + 1}` });
  app.store.get(`photo:${hash}`).then((photo) => {
    if (!photo) return;
    const url = URL.createObjectURL(new Blob([photo.bytes], { type: photo.type }));
    shown.addEventListener("load", () => URL.revokeObjectURL(url));
    shown.src = url;
  });
  return shown;
}

function thumb(app, hash, index, removed) {
  const remove = { class: "plain", "aria-label": `Remove photo ${index + 1}`, click: () => removed(hash) };
  return h("div.thumb", picture(app, hash, index), button("Remove", remove));
}

/** The way to say there is nothing to take a photo with; `without` is whether it was said. */
export const noCamera = (without, click) =>
  button("No camera", { id: "no-camera", class: "plain", "aria-pressed": String(without), click });
