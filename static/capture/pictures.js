// A picture from the tablet's camera, made small enough for a yard's signal. What is hashed is what is sent.

import { sha256 } from "./manifest.js";

const LONG_SIDE_PX = 1600;
const QUALITY = 0.8;
const TYPE = "image/jpeg";
const NO_ROOM = "There was no room to keep that picture. Close other pages and take it again.";

/** A picture that cannot be used; the message is a sentence for the person who took it. */
export class UnusablePicture extends Error {}

async function open(file) {
  try {
    // The turn a phone records beside the picture is carried out here, since redrawing drops the record of it.
    return await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    throw new UnusablePicture("That is not a picture that can be opened here. Take it again with the camera.");
  }
}

/**
 * {sha256, bytes, type} of a file the camera gave: upright, JPEG, at most 1600 px on its long side, and without what
 * the camera wrote into it (place, model, time). Throws UnusablePicture.
 */
export async function prepare(file) {
  const bitmap = await open(file);
  const scale = Math.min(1, LONG_SIDE_PX / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(bitmap.width * scale));
  canvas.height = Math.max(1, Math.round(bitmap.height * scale));
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
  const bytes = jpeg(canvas);
  if (!bytes.byteLength) throw new UnusablePicture(NO_ROOM);
  return { sha256: await sha256(bytes), bytes, type: TYPE };
}

// Written at once: toBlob waits for an idle moment, and on a busy tablet has let ten seconds go by without one.
// Bytes, since a stored Blob has been lost by more than one browser. None where the browser had no room to draw.
function jpeg(canvas) {
  const [head, body = ""] = canvas.toDataURL(TYPE, QUALITY).split(",");
  const written = head.startsWith(`data:${TYPE}`) ? atob(body) : "";
  return Uint8Array.from(written, (letter) => letter.charCodeAt(0)).buffer;
}
