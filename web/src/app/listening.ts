// What a live link needs of the browser: a socket, timers, and to be told when it is worth knocking again.

import type { Link, Socket, Timers } from "../core/link.ts";

/** Opens sockets to `path` of the station that this page is of; it says of each frame that it was seen. */
export const socketTo = (path: string) => (): Socket => {
  const url = new URL(`${path}?seen`, document.baseURI);
  url.protocol = url.protocol === "https:" ? "wss:" : "ws:";
  return new WebSocket(url) as unknown as Socket;
};

/** As long as a page that is awake and a machine that is not asleep leave between two looks, in ms. */
const SLEPT_MS = 1000;
const LOOK_MS = 500;
let told = 0;
let steady = performance.now();
let wall = Date.now();

/** The steady clock stands still while the machine sleeps; the wall clock says by how much. */
function time(): number {
  const [steadyNow, wallNow] = [performance.now(), Date.now()];
  const slept = wallNow - wall - (steadyNow - steady);
  told += steadyNow - steady + (slept > SLEPT_MS ? slept : 0);
  [steady, wall] = [steadyNow, wallNow];
  return told;
}

export const timers: Timers = {
  after: (ms, call) => setTimeout(call, ms),
  cancel: (timer) => clearTimeout(timer as number),
  chance: () => Math.random(),
  time,
};

/** Begin, and knock at once when the network is back or somebody looks again; returns how to end. */
export function listen(link: Pick<Link, "start" | "stop" | "retry" | "look" | "sleep">): () => void {
  const online = () => link.retry();
  const looked = () => {
    link.look();
    if (!document.hidden) link.retry();
  };
  const shown = (event: PageTransitionEvent) => event.persisted && looked();
  const sleeps = () => link.sleep();
  addEventListener("online", online);
  addEventListener("pageshow", shown);
  document.addEventListener("visibilitychange", looked);
  document.addEventListener("freeze", sleeps);
  document.addEventListener("resume", online);
  const looking = setInterval(() => link.look(), LOOK_MS);
  link.start();
  return () => {
    removeEventListener("online", online);
    removeEventListener("pageshow", shown);
    document.removeEventListener("visibilitychange", looked);
    document.removeEventListener("freeze", sleeps);
    document.removeEventListener("resume", online);
    clearInterval(looking);
    link.stop();
  };
}
