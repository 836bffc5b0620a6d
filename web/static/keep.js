// Keeps pieces of a recording on the phone until the bench has them on its
// disk: in memory, and in the browser's own store so that a page that dies
// loses nothing.
let opened;
function open() {
  opened ??= new Promise((done, failed) => {
    const ask = indexedDB.open("halforder", 1);
    ask.onupgradeneeded = () => {
      ask.result.createObjectStore("pieces", { keyPath: ["key", "seq"] });
      ask.result.createObjectStore("takes", { keyPath: "key" });
    };
    ask.onsuccess = () => done(ask.result);
    ask.onerror = () => failed(ask.error);
  });
  return opened;
}

async function run(store, mode, work) {
  try {
    const db = await open();
    return await new Promise((done, failed) => {
      const t = db.transaction(store, mode);
      const ask = work(t.objectStore(store));
      t.oncomplete = () => done(ask?.result);
      t.onerror = () => failed(t.error);
    });
  } catch {
    return undefined; // private browsing: memory alone has to do
  }
}

export const keepTake = (take) => run("takes", "readwrite", (s) => s.put(take));
export const keepPiece = (key, seq, first, data) => run("pieces", "readwrite", (s) => s.put({ key, seq, first, data }));
export const dropPieces = (key, before) => run("pieces", "readwrite", (s) => s.delete(IDBKeyRange.bound([key, 0], [key, before], false, true)));
export const leftTakes = async () => (await run("takes", "readonly", (s) => s.getAll())) ?? [];
export const leftPieces = async (key) => (await run("pieces", "readonly", (s) => s.getAll(IDBKeyRange.bound([key, 0], [key, Infinity])))) ?? [];

export async function dropTake(key) {
  await dropPieces(key, Infinity);
  await run("takes", "readwrite", (s) => s.delete(key));
}
