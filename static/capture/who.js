// Who has this tablet: whoever signed in on it last, by password or by PIN; or, where there was no signal, whoever took
// it by name, until somebody signs in after that. No page in here, and no PIN is ever kept.

const KEY = "reference:who";

/** The holder of the tablet, in the store and in the page. `kept` is {person, session, by_name}, or null at first. */
export function createWho({ store, wire, wrote }) {
  const who = { kept: null };

  const keep = async (kept) => {
    await store.put(KEY, kept);
    who.kept = kept;
    wrote();
  };

  who.load = async () => {
    who.kept = (await store.get(KEY)) ?? null;
  };

  /** Takes up the yard's word of who is signed in. The same sign-in again changes nothing. */
  who.heard = async ({ person, signed_in_at: since }) => {
    if (!person) return;
    const session = `${since ?? ""} ${person.id}`;
    const { kept } = who;
    if (kept?.session === session && (kept.by_name || kept.person.name === person.name)) return;
    // A full disk is no reason to go on under another's name.
    await keep({ person, session, by_name: false }).catch(() => {
      who.kept = { person, session, by_name: false };
    });
  };

  /** Whether the yard is there to change over with. */
  who.ask = () => wire.askChangeOver();

  who.takeByPin = async (id, pin) => {
    const { person } = await wire.changeOver(id, pin);
    await keep({ person, session: "", by_name: false });
    return person;
  };

  who.takeByName = ({ id, name, role }) =>
    keep({ person: { id, name, role }, session: who.kept?.session ?? "", by_name: true });

  return who;
}
