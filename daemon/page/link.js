/* SPDX-License-Identifier: Apache-2.0 */
/* The connection to the daemon: events while they come, questions every 5 s where they do not, and how old the last
 * picture is. A picture counts as new when the daemon has ticked since. */

const POLL_MS = 5000;
const BACK_MS = 4000; /* a stream that the server ends is back by itself within 3 s */
const STALE_MS = 12000; /* pictures come every 2 s, or are asked for every 5 s */
const AGAIN_MS = 60000; /* until events are tried again after the server had no place for them */

export class Link {
  constructor(onStatus) {
    this.onStatus = onStatus;
    this.ticks = null;
    this.freshMs = null; /* performance.now() at the last new picture */
    this.way = "waiting";
    this.isStarting = false; /* the daemon answers, and has no picture yet */
    this.timer = null;
    this.listen();
  }

  listen() {
    this.source = new EventSource("/live");
    this.source.addEventListener("status", (event) => {
      this.way = "events";
      this.stopPolling();
      this.take(JSON.parse(event.data));
    });
    this.source.addEventListener("error", () => {
      const isRefused = this.source.readyState === EventSource.CLOSED;
      if (isRefused) setTimeout(() => this.listen(), AGAIN_MS);
      this.poll(isRefused ? 0 : BACK_MS);
    });
  }

  stopPolling() {
    clearTimeout(this.timer);
    this.timer = null;
  }

  poll(afterMs) {
    if (this.timer !== null) return;
    const ask = async () => {
      try {
        const answer = await fetch("/status.json", {cache: "no-store", signal: AbortSignal.timeout(POLL_MS)});
        if (answer.ok) {
          this.way = "questions";
          this.take(await answer.json());
        }
      } catch {
        this.way = "lost";
      }
      if (this.timer !== null) this.timer = setTimeout(ask, POLL_MS);
    };
    this.timer = setTimeout(ask, afterMs);
  }

  take(status) {
    const isNew = status.ticks !== this.ticks && status.is_ready;
    this.isStarting = !status.is_ready;
    this.ticks = status.ticks;
    if (isNew) this.freshMs = performance.now();
    this.onStatus(status);
  }

  ageMs() {
    return this.freshMs === null ? Infinity : performance.now() - this.freshMs;
  }

  isStale() {
    return this.ageMs() > STALE_MS;
  }
}

/* One answer of the daemon, or its sentence as the error. */
export async function ask(path, query = {}) {
  const answer = await fetch(path + "?" + new URLSearchParams(query), {cache: "no-store"});
  if (answer.ok) return answer.json();
  const text = (await answer.text()).trim().slice(0, 300);
  throw new Error(text.startsWith("{") ? JSON.parse(text).error : text || `answer ${answer.status}`);
}
