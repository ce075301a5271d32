// SPDX-License-Identifier: GPL-3.0-or-later
// What was left on this tablet, perhaps days ago, goes at the next login of the same person.
import {post} from "./api.js";
import {Queue} from "./queue.js";
import {openStore} from "./store.js";

// Sends all that this person has unsent on this tablet; resolves with how many entries there were.
export async function sendOld(person) {
  const store = await openStore();
  const n = (await store.unsentByPerson()).get(person) ?? 0;
  if (n === 0) return 0;
  const observations = await store.observationsOf(person);
  await Promise.all(observations.map(({key}) => new Queue({store, post, key}).wake()));
  return n;
}
