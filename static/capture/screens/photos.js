// Taking photos and showing those taken. The camera is the tablet's own, reached through a file button.

import { button, h, mark } from "../dom.js";
import { UnusablePicture, prepare } from "../pictures.js";

/**
 * A camera button and the photos so far. `hashes` are those kept; `taken(hash)` and `removed(hash)` are called once the
 * store has followed. Pictures that cannot be used are told in words and change nothing.
 */
export function photoStrip(app, { hashes, taken, removed, label = "Take a photo" }) {
  const told = h("p", { class: "photo-told", role: "status" });
  const input = h("input", {
    type: "file",
    id: "camera",
    class: "camera-input",
    accept: "image/*",
    capture: "environment",
    multiple: true,
    tabindex: "-1",
    "aria-hidden": "true",
  });
  const open = button(
    label,
    {
      id: "take",
      class: "main-choice camera",
      click: () => {
        app.camera_open = true;
        input.click();
      },
    },
    mark("camera"),
  );
  const finish = () => {
    app.camera_open = false;
  };
  input.addEventListener("cancel", finish);
  input.addEventListener("change", async () => {
    finish();
    told.textContent = "Keeping the photo.";
    for (const file of input.files) {
      try {
        taken(await app.keepPhoto(await prepare(file)));
      } catch (error) {
        told.textContent = error instanceof UnusablePicture ? error.message : "That photo is not kept. Take it again.";
        return;
      }
    }
    told.textContent = "";
  });
  return h("div", { class: "photo-strip" }, open, input, ...hashes.map((hash, index) => thumb(app, hash, index, removed)), told);
}

function thumb(app, hash, index, removed) {
  const picture = h("img", { alt: `Photo ${index + 1}` });
  app.store.get(`photo:${hash}`).then((blob) => {
    const url = URL.createObjectURL(blob);
    picture.addEventListener("load", () => URL.revokeObjectURL(url));
    picture.src = url;
  });
  return h(
    "div",
    { class: "thumb" },
    picture,
    removed && button("Remove", { class: "plain", "aria-label": `Remove photo ${index + 1}`, click: () => removed(hash) }),
  );
}
