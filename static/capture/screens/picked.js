// A look that the yard's lot fell on: its photo comes before its answers.

import { button, h } from "../dom.js";
import { withPhotos } from "../walk.js";
import { answerButton } from "./answering.js";
import { TOO_MANY_PHOTOS, photoStrip, picture } from "./photos.js";

const ASKED = "Take a photo of this one. The yard picks two at random on every pre-hire check.";

async function changed(app, act, part) {
  await act.keepPictures(part);
  app.redraw();
}

/** What stands where the answers stand until there is a photo: the camera, and what needs none. */
export function photoFirst(app, walk, n, act) {
  const camera = photoStrip(app, {
    hashes: [],
    taken: async (hashes) => {
      const { photos, left_out } = withPhotos([], hashes);
      if (left_out) app.tell(TOO_MANY_PHOTOS);
      await changed(app, act, { photos, no_camera: false });
    },
    removed: () => {},
    trouble: act.complain,
  });
  const without = { id: "no-camera", class: "answer", click: () => changed(app, act, { no_camera: true }) };
  const kinds = ["could_not_check", ...(act.check.may_be_absent ? ["not_on_cart"] : [])];
  const others = kinds.map((kind) => answerButton(app, walk, n, act, kind, () => ({})));
  return h("section.answers.answer-sound.photo-first", { "aria-label": "Photo" },
    act.told,
    h("p.picked", ASKED),
    h("div.sides", h("div.side-hand", camera), h("div.side-other", button("No camera", without), others)),
  );
}

/** The photo that was taken, or that there was no camera, beside the check; either can be taken back. */
export function photoTaken(app, act) {
  const { photos } = act.pictures();
  const back = { class: "plain", click: () => changed(app, act, { photos: [], no_camera: false }) };
  return h("div.picked-photos",
    photos.length ? photos.map((hash, index) => picture(app, hash, index)) : h("p", "No camera."),
    button(photos.length ? "Take it again" : "Take a photo after all", back),
  );
}
