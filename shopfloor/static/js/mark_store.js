// Keeps marks on the tablet until the server has answered them: a small table in IndexedDB, in the order they were made.
// A row is {order, key, url, body, words, person, personName, at, tries, refused}; `refused` is the server's sentence.
const TABLE = "marks";
let opened = null;

function open() {
  opened ??= new Promise((done, fail) => {
    const asked = indexedDB.open("shop-floor", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(TABLE, { keyPath: "order", autoIncrement: true });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  return opened;
}

async function run(mode, work) {
  const base = await open();
  return new Promise((done, fail) => {
    const change = base.transaction(TABLE, mode);
    const asked = work(change.objectStore(TABLE));
    // Only a finished transaction is on the disk.
    change.oncomplete = () => done(asked.result);
    change.onerror = change.onabort = () => fail(change.error);
  });
}

export const isThere = () => open().then(() => true, () => false);
export const add = (mark) => run("readwrite", (table) => table.add(mark));
export const change = (mark) => run("readwrite", (table) => table.put(mark));
export const remove = (mark) => run("readwrite", (table) => table.delete(mark.order));
export const all = () => run("readonly", (table) => table.getAll());
