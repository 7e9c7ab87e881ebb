// Hands one signed record to the yard: its photos first, each under its hash, then the record. Safe to begin again at
// any point, because the yard gives the same answer to the same bytes.

import { WireFailure } from "./wire.js";

async function sendPhotos(parcel, hashes, { store, wire, tell }) {
  for (const hash of hashes) {
    const photo = await store.get(`photo:${hash}`);
    if (!photo) throw new WireFailure("photos_missing", { missing: [hash] });
    await wire.photo(hash, photo);
    parcel.photos_sent = [...new Set([...parcel.photos_sent, hash])];
    await store.put(`parcel:${parcel.id}`, parcel);
    tell(parcel);
  }
}

/**
 * Sends what is still to be sent of `parcel` {id, text, photos, photos_sent} and gives the yard's answer. `tell` is
 * called after every photo. Rejects with WireFailure; what the yard already has is remembered in the store.
 */
export async function send(parcel, { store, wire, tell }) {
  await sendPhotos(parcel, parcel.photos.filter((hash) => !parcel.photos_sent.includes(hash)), { store, wire, tell });
  try {
    return await wire.walkRound(parcel.id, parcel.text);
  } catch (error) {
    if (error.kind !== "photos_missing") throw error;
    // The yard has lost sight of a photo it once took: it says which, they go again, and so does the record, once.
    parcel.photos_sent = parcel.photos_sent.filter((hash) => !error.missing.includes(hash));
    await sendPhotos(parcel, error.missing, { store, wire, tell });
    return wire.walkRound(parcel.id, parcel.text);
  }
}
