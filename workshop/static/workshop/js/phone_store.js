/* What a paired phone keeps: pages as they were last seen, and acts written down without a signal.
   Shared by pages and the service worker. All of it is enciphered (AES-GCM, Web Cryptography API)
   under a key of this person on this phone that no script can read out; the key goes with signing
   out and with the end of the pairing, and what it locked can be read by nobody then. */
"use strict";

(() => {
  const STORES = ["keys", "pages", "acts", "facts", "told"];
  const VERSION = 2;
  // An act with what stood on its page takes some kilobytes; a question with its reason more.
  const ROOM_BYTES = 256 * 1024;

  function open() {
    return new Promise((done, failed) => {
      const asked = indexedDB.open("strandwork", VERSION);
      // What is there stays: an act that waits outlives every newer edition of the app.
      asked.onupgradeneeded = () => {
        const there = asked.result.objectStoreNames;
        for (const name of STORES) if (!there.contains(name)) asked.result.createObjectStore(name);
      };
      asked.onsuccess = () => {
        // A page of a newer edition waits for this one to let go.
        asked.result.onversionchange = () => asked.result.close();
        done(asked.result);
      };
      asked.onerror = () => failed(asked.error);
    });
  }

  /* One transaction, which is over when the disk has it. */
  async function within(name, mode, work) {
    const base = await open();
    try {
      return await new Promise((done, failed) => {
        const transaction = base.transaction(name, mode, { durability: "strict" });
        const asked = work(transaction.objectStore(name));
        transaction.oncomplete = () => done(asked && asked.result);
        transaction.onabort = transaction.onerror = () => failed(transaction.error);
      });
    } finally {
      base.close();
    }
  }

  const get = (name, key) => within(name, "readonly", (rows) => rows.get(key));
  const put = (name, value, key) => within(name, "readwrite", (rows) => rows.put(value, key));
  const remove = (name, key) => within(name, "readwrite", (rows) => rows.delete(key));
  const all = (name) => within(name, "readonly", (rows) => rows.getAll());
  /* Keys of rows are “person what”. */
  const ofPerson = (person) => IDBKeyRange.bound(`${person} `, `${person} \uffff`);

  const keyOf = (person) => get("keys", person);

  /* Made by a page that its person opens, never by the worker: a page that it is just about to keep
     must not bring back a key that went with signing out. */
  async function begin(person) {
    if (await keyOf(person)) return;
    const fresh = await crypto.subtle.generateKey({ name: "AES-GCM", length: 256 }, false, [
      "encrypt",
      "decrypt",
    ]);
    try {
      await within("keys", "readwrite", (rows) => rows.add(fresh, person));
    } catch {
      /* Another page of this phone made one at the same moment. */
    }
  }

  async function lock(person, content) {
    const iv = crypto.getRandomValues(new Uint8Array(12));
    const plain = new TextEncoder().encode(JSON.stringify(content));
    const key = await keyOf(person);
    if (!key) throw new Error("nobody is signed in on this phone");
    return { person, iv, data: await crypto.subtle.encrypt({ name: "AES-GCM", iv }, key, plain) };
  }

  async function unlock(row) {
    const key = row && (await keyOf(row.person));
    if (!key) return null;
    const plain = await crypto.subtle.decrypt({ name: "AES-GCM", iv: row.iv }, key, row.data);
    return JSON.parse(new TextDecoder().decode(plain));
  }

  const keepPage = async (person, path, page) =>
    put("pages", { ...(await lock(person, page)), at: page.at }, `${person} ${path}`);
  const keptSince = async (person, path) => (await get("pages", `${person} ${path}`))?.at ?? 0;
  const readPage = async (person, path) => unlock(await get("pages", `${person} ${path}`));

  /* Acts stand in the order in which they were written, whatever a clock said meanwhile. */
  const nextTurn = () =>
    within("facts", "readwrite", (rows) => {
      const last = rows.get("turn");
      last.onsuccess = () => rows.put((last.result ?? 0) + 1, "turn");
      return last;
    });

  /* An act: id, turn, at (ms), behind (of this clock then, ms), path, entries, title, said, state
     (“waits” or “asks”), why. Of an entry that is a file: name, type, and its bytes in base64. */
  async function writeAct(person, act) {
    const turn = act.turn ?? (await nextTurn()) ?? 0;
    await put("acts", await lock(person, { ...act, turn }), `${person} ${act.id}`);
  }
  const dropAct = (person, id) => remove("acts", `${person} ${id}`);

  async function actsOf(person) {
    const rows = await within("acts", "readonly", (kept) => kept.getAll(ofPerson(person)));
    const acts = await Promise.all(rows.map(unlock));
    const turn = (act) => act.turn ?? -1;
    return acts.filter(Boolean).sort((one, other) => turn(one) - turn(other) || one.at - other.at);
  }

  /* What the desk said to an act that it has: id, at, title, told, path. */
  const keepTold = async (person, told) =>
    put("told", { ...(await lock(person, told)), at: told.at }, `${person} ${told.id}`);
  const dropTold = (person, id) => remove("told", `${person} ${id}`);
  async function toldOf(person) {
    const rows = await within("told", "readonly", (kept) => kept.getAll(ofPerson(person)));
    const told = await Promise.all(rows.map(unlock));
    return told.filter(Boolean).sort((one, other) => other.at - one.at);
  }

  /* Whether there is room for one act more, with a file of so many bytes; tried, for what browsers
     estimate is no promise. */
  async function hasRoom(fileBytes = 0) {
    const filled = crypto.getRandomValues(new Uint8Array(64 * 1024));
    const length = Math.ceil((ROOM_BYTES + 2 * fileBytes) / filled.length);
    const rows = Array.from({ length }, () => filled);
    try {
      await put("facts", rows, "room");
      return true;
    } catch {
      return false;
    } finally {
      await remove("facts", "room").catch(() => {});
    }
  }

  const countOf = (person) => within("acts", "readonly", (rows) => rows.count(ofPerson(person)));

  async function forget(person) {
    await remove("keys", person);
    for (const name of ["pages", "acts", "told"]) {
      await within(name, "readwrite", (rows) => rows.delete(ofPerson(person)));
    }
  }

  async function forgetAll() {
    for (const name of STORES) await within(name, "readwrite", (rows) => rows.clear());
  }

  self.phoneStore = {
    ...{ begin, get, put, all, keepPage, keptSince, readPage, writeAct, dropAct, actsOf, countOf },
    ...{ forget, forgetAll, keepTold, dropTold, toldOf, hasRoom },
  };
})();
