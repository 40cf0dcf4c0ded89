// What this phone keeps: entries that wait, and pages to look at without a connection. In IndexedDB, which plain http has too.
"use strict";

window.phoneStore = (() => {
  const NAME = "coatbell", VERSION = 1, PATIENCE_MS = 4000;
  const opened = new Promise((resolve, reject) => {
    setTimeout(() => reject(new Error("the phone's store does not open")), PATIENCE_MS);
    const asked = indexedDB.open(NAME, VERSION); // throws where a browser has none: that rejects as well
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("entries", { keyPath: "number", autoIncrement: true });
      asked.result.createObjectStore("pages", { keyPath: "path" });
      asked.result.createObjectStore("notes", { keyPath: "name" });
    };
    asked.onsuccess = () => { asked.result.onversionchange = () => asked.result.close(); resolve(asked.result); };
    asked.onerror = () => reject(asked.error);
  });
  const usable = opened.then(() => true, () => false);

  // One transaction: over only once it is on the disk. `work` is handed the store, and a way to give something back.
  async function deal(name, mode, work) {
    const base = await opened;
    return new Promise((resolve, reject) => {
      const transaction = base.transaction(name, mode, { durability: "strict" });
      let found;
      transaction.oncomplete = () => resolve(found);
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
      work(transaction.objectStore(name), (value) => { found = value; });
    });
  }

  const asked = (request, give) => { request.onsuccess = () => give(request.result); };
  const all = (name) => deal(name, "readonly", (store, give) => asked(store.getAll(), give));
  const get = (name, key) => deal(name, "readonly", (store, give) => asked(store.get(key), give));
  const put = (name, value) => deal(name, "readwrite", (store, give) => asked(store.put(value), give));
  const drop = (name, key) => deal(name, "readwrite", (store) => store.delete(key));

  // Reads and writes in one go, so that no other tab comes between. `change` gives what to keep, or nothing.
  function change(name, key, change) {
    return deal(name, "readwrite", (store, give) => {
      asked(store.get(key), (before) => {
        const after = change(before);
        give(after);
        if (after) store.put(after);
      });
    });
  }

  return { usable, all, get, put, drop, change };
})();
